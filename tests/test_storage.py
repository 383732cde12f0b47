"""Stored fits come back bit by bit; torn, damaged and newer files are refused; writing is whole."""

from __future__ import annotations

import json
import math
import os
import stat
import struct
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from affine import Affine
from hypothesis import given
from hypothesis import strategies as st

from regmap.errors import StoredFileError
from regmap.outputs import storage, whole_files
from regmap.outputs.whole_files import write_whole
from regmap.registration import Registration
from tests.fit_examples import HALL, TURNED, make_fit


def _bits(fit: Registration) -> list[bytes]:
    """Every number of a fit as its 64 bits."""
    numbers = [*fit.transform, fit.confidence, fit.reprojection_error, fit.wall_offset]
    numbers += [*fit.anchor_px, fit.floor_error, *fit.covariance.ravel(), *fit.residuals.ravel()]
    for rings in fit.outlines.values():
        numbers += [value for ring in rings for value in ring.ravel()]
    return [struct.pack("<d", value) for value in numbers]


def test_save_and_load_bring_everything_back(tmp_path: Path) -> None:
    other = make_fit(transform=TURNED, alternatives=(make_fit(outlines={"hall": HALL}),))
    fit = make_fit(transform=TURNED, confidence=1 / 3, alternatives=(other,))
    fit.save(tmp_path / "fit.json")
    again = Registration.load(tmp_path / "fit.json")
    assert again.same_as(fit)
    assert _bits(again) == _bits(fit)
    assert again.transform == fit.transform
    assert again.rooms[0].label_px == fit.rooms[0].label_px
    assert math.isnan(again.rooms[1].overlap)
    # The alternatives share the outlines of the fit, stored once; the last one has its own.
    assert list(again.alternatives[0].outlines) == ["study", "hall"]
    assert list(again.alternatives[0].alternatives[0].outlines) == ["hall"]
    text = (tmp_path / "fit.json").read_text("utf-8")
    assert text.count('"rings"') == 3
    assert Registration.from_dict(fit.to_dict()).same_as(fit)


number = st.floats(-1e30, 1e30)


@given(
    st.lists(st.tuples(number, number), min_size=3, max_size=6),
    st.text(st.characters(), max_size=20),
    st.text(st.characters(), max_size=20),
    st.floats(0, 1),
    st.tuples(number, number),
)
def test_any_number_and_any_name_round_trips(
    ring: list[tuple[float, float]],
    name: str,
    reason: str,
    confidence: float,
    shift: tuple[float, float],
) -> None:
    fit = make_fit(
        outlines={name: (ring,)},
        confidence=confidence,
        reasons=(reason,),
        transform=Affine(math.pi, 0.1, shift[0], 0.1, -math.e, shift[1]),
    )
    data = whole_files.json_text(fit.to_dict()).encode("utf-8")
    again = Registration.from_dict(json.loads(data))
    assert _bits(again) == _bits(fit)
    assert list(again.outlines) == [name]
    assert again.reasons == (reason,)


@pytest.mark.parametrize(
    "name", ["", "Küche", "台所", "\U0001f6cb", "\ud83d", "a\u0000b\u2028\\\"'"]
)
def test_names_of_any_script_survive_a_file(tmp_path: Path, name: str) -> None:
    make_fit(outlines={name: HALL}).save(tmp_path / "fit.json")
    assert list(Registration.load(tmp_path / "fit.json").outlines) == [name]


def test_readable_names_stay_readable(tmp_path: Path) -> None:
    make_fit(outlines={"Küche": HALL}).save(tmp_path / "fit.json")
    assert "Küche" in (tmp_path / "fit.json").read_text("utf-8")


def test_infinite_reprojection_error_survives() -> None:
    fit = make_fit(reprojection_error=math.inf)
    stored = json.loads(whole_files.json_text(fit.to_dict()))
    assert Registration.from_dict(stored).reprojection_error == math.inf
    assert math.isnan(
        Registration.from_dict(make_fit(reprojection_error=math.nan).to_dict()).reprojection_error
    )


@pytest.mark.parametrize("keep", [0.0, 0.1, 0.5, 0.9, 0.999])
def test_torn_files_are_refused(tmp_path: Path, keep: float) -> None:
    path = tmp_path / "fit.json"
    make_fit().save(path)
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * keep)])
    with pytest.raises(StoredFileError, match=r"fit\.json is damaged"):
        Registration.load(path)


def test_no_flipped_bit_goes_unnoticed(tmp_path: Path) -> None:
    path = tmp_path / "fit.json"
    fit = make_fit()
    fit.save(path)
    data = path.read_bytes()
    rng = np.random.default_rng(8)
    for place in rng.integers(0, len(data), 300):
        broken = bytearray(data)
        broken[place] ^= 1 << int(rng.integers(8))
        path.write_bytes(broken)
        try:
            again = Registration.load(path)
        except StoredFileError:
            continue
        # A flip may turn one blank into another, or spoil the checksum's key: the content stands.
        assert again.same_as(fit), place


def test_a_file_without_checksum_is_read(tmp_path: Path) -> None:
    path = tmp_path / "fit.json"
    make_fit().save(path)
    stored = json.loads(path.read_text("utf-8"))
    del stored["checksum"]
    path.write_text(json.dumps(stored), "utf-8")
    assert Registration.load(path).same_as(make_fit())


def _remove(stored: dict[str, Any], key: str) -> None:
    del stored[key]


@pytest.mark.parametrize(
    ("spoil", "text"),
    [
        (lambda s: s.update(format="other"), "no stored registration"),
        (lambda s: s.update(version=2), "version 2, and this program knows versions up to 1"),
        (lambda s: s.update(version="1"), "whole number"),
        (lambda s: s.update(version=True), "whole number"),
        (lambda s: s.update(version=0), "whole number"),
        (lambda s: _remove(s, "covariance"), "'covariance' is missing"),
        (lambda s: _remove(s, "outlines"), "'outlines' is missing"),
        (lambda s: _remove(s["rooms"][0], "state"), "'state' is missing"),
        (lambda s: s.update(confidence="high"), "an entry is wrong"),
        (lambda s: s.update(confidence=7), "confidence is 7"),
        (lambda s: s.update(transform=[1, 2]), "an entry is wrong"),
        (lambda s: s.update(transform=None), "an entry is wrong"),
        (lambda s: s.update(outlines=3), "an entry is wrong"),
        (lambda s: s.update(checksum="sha256:0"), "checksum does not match"),
        (lambda s: s.update(alternatives=[{}]), "is missing"),
    ],
)
def test_wrong_entries_are_named(spoil: Any, text: str) -> None:
    stored = make_fit().to_dict()
    spoil(stored)
    with pytest.raises(StoredFileError, match=text):
        Registration.from_dict(stored)


@pytest.mark.parametrize(
    "content",
    [b"", b"[]", b"null", b"\xff\xfe", b'{"format": NaN}', b"[" * 100_000, b"\x89PNG\r\n"],
)
def test_what_is_no_fit_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(content)
    with pytest.raises(StoredFileError, match=r"x\.json"):
        Registration.load(path)


def test_missing_file_and_folder_are_refused(tmp_path: Path) -> None:
    with pytest.raises(StoredFileError, match="cannot be read"):
        Registration.load(tmp_path / "none.json")
    with pytest.raises(StoredFileError, match="is a folder: give the file in it"):
        Registration.load(tmp_path)


STORED = {
    int(path.stem.rpartition("-")[2]): path
    for path in (Path(__file__).parent / "stored").glob("registration-*.json")
}
"""A file of each version of the stored form, as that version wrote it. They are never changed."""


def test_each_version_that_was_ever_written_has_a_witness() -> None:
    assert sorted(STORED) == list(range(1, storage.VERSION + 1))


@pytest.mark.parametrize("version", STORED)
def test_files_of_every_version_are_read(version: int) -> None:
    assert json.loads(STORED[version].read_text("utf-8"))["version"] == version
    fit = Registration.load(STORED[version])
    other = make_fit(transform=TURNED, confidence=0.4, outlines={"Küche": HALL})
    assert fit.same_as(make_fit(transform=TURNED, alternatives=(other,)))


def test_a_file_of_a_newer_version_is_refused_by_name_with_what_to_do(tmp_path: Path) -> None:
    stored = json.loads(STORED[1].read_text("utf-8"))
    newer = {"format": stored["format"], "version": storage.VERSION + 1, "other": "entries"}
    (tmp_path / "fit.json").write_text(json.dumps(newer), "utf-8")
    said = rf"fit\.json: .* of version {storage.VERSION + 1}, .*update regmap"
    with pytest.raises(StoredFileError, match=said):
        Registration.load(tmp_path / "fit.json")


def test_schema_accepts_what_is_written_and_refuses_the_rest() -> None:
    jsonschema = pytest.importorskip("jsonschema")
    schema = json.loads(Path(storage.__file__).with_name(storage.SCHEMA_FILE).read_text("utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(schema)
    other = make_fit(reprojection_error=math.inf)
    stored = make_fit(reprojection_error=math.nan, alternatives=(other,)).to_dict()
    assert list(validator.iter_errors(stored)) == []
    assert not validator.is_valid({**stored, "version": 2})
    assert not validator.is_valid({**stored, "confidence": 2})
    assert not validator.is_valid({**stored, "reprojection_error": "big"})
    assert not validator.is_valid({k: v for k, v in stored.items() if k != "outlines"})
    # Everything that is written is described.
    described = schema["$defs"]["fit"]["properties"]
    assert set(stored) == {"format", "version", *described}
    assert set(stored["rooms"][0]) == set(schema["$defs"]["room"]["properties"])


class TestWriteWhole:
    def test_writes_and_keeps_what_is_there(self, tmp_path: Path) -> None:
        path = tmp_path / "a.txt"
        write_whole(path, "one\r\nline\n")
        assert path.read_bytes() == b"one\r\nline\n"
        with pytest.raises(StoredFileError, match="is there already"):
            write_whole(path, b"two")
        assert path.read_bytes() == b"one\r\nline\n"
        write_whole(str(path), b"two", overwrite=True)
        assert path.read_bytes() == b"two"
        assert os.listdir(tmp_path) == ["a.txt"]

    def test_a_failure_leaves_the_old_file_and_no_draft(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        path = tmp_path / "a.txt"
        write_whole(path, b"old")

        def full_disk(_: int) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(os, "fsync", full_disk)
        with pytest.raises(StoredFileError, match="No space left"):
            write_whole(path, b"new", overwrite=True)
        assert path.read_bytes() == b"old"
        assert os.listdir(tmp_path) == ["a.txt"]

    def test_who_comes_second_does_not_win(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """Another program makes the file after the look and before the name is taken."""
        path = tmp_path / "a.txt"
        real = os.fsync

        def slow(handle: int) -> None:
            path.write_bytes(b"theirs")
            real(handle)

        monkeypatch.setattr(os, "fsync", slow)
        with pytest.raises(StoredFileError, match="is there already"):
            write_whole(path, b"mine")
        assert path.read_bytes() == b"theirs"
        assert os.listdir(tmp_path) == ["a.txt"]

    def test_works_without_hard_links(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def no_links(*_: object) -> None:
            raise OSError(95, "Operation not supported")

        monkeypatch.setattr(os, "link", no_links)
        write_whole(tmp_path / "a.txt", b"one")
        assert (tmp_path / "a.txt").read_bytes() == b"one"
        with pytest.raises(StoredFileError, match="is there already"):
            write_whole(tmp_path / "a.txt", b"two")

    def test_odd_targets(self, tmp_path: Path) -> None:
        with pytest.raises(StoredFileError, match="is a folder"):
            write_whole(tmp_path, b"")
        with pytest.raises(StoredFileError, match="cannot be written: there is no folder"):
            write_whole(tmp_path / "none" / "a.txt", b"")
        write_whole(tmp_path / ("n" * 240), b"long name")
        assert (tmp_path / ("n" * 240)).read_bytes() == b"long name"

    @pytest.mark.skipif(os.name != "posix", reason="permissions and links of POSIX")
    def test_permissions_and_links(self, tmp_path: Path) -> None:
        write_whole(tmp_path / "a.txt", b"one")
        (tmp_path / "plain").write_bytes(b"")
        assert stat.S_IMODE((tmp_path / "a.txt").stat().st_mode) == stat.S_IMODE(
            (tmp_path / "plain").stat().st_mode
        )
        (tmp_path / "link").symlink_to(tmp_path / "a.txt")
        write_whole(tmp_path / "link", b"two", overwrite=True)
        assert (tmp_path / "link").is_symlink()
        assert (tmp_path / "a.txt").read_bytes() == b"two"

    def test_a_killed_writer_never_leaves_half_a_file(self, tmp_path: Path) -> None:
        """Kill a process that writes two contents in turn; what stands there is one of them."""
        path = tmp_path / "a.bin"
        code = (
            "import sys; from regmap.outputs.whole_files import write_whole\n"
            "i = 0\n"
            "while True:\n"
            "    i += 1\n"
            "    write_whole(sys.argv[1], bytes([i % 2]) * 1_000_000, overwrite=True)\n"
            "    print(i, flush=True)\n"
        )
        for rounds in (1, 2, 5):
            with subprocess.Popen(
                [sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE
            ) as writer:
                assert writer.stdout is not None
                for _ in range(rounds):
                    writer.stdout.readline()
                writer.kill()
            data = path.read_bytes()
            assert len(data) == 1_000_000
            assert data in (bytes(1_000_000), b"\x01" * 1_000_000)


class TestTogether:
    def test_all_or_none(self, tmp_path: Path) -> None:
        (tmp_path / "there").write_text("mine")
        files = [(tmp_path / "new", "a"), (tmp_path / "there", "b")]
        with pytest.raises(StoredFileError, match="there already"):
            whole_files.write_together(files)
        with pytest.raises(StoredFileError, match="cannot be written"):
            whole_files.write_together([(tmp_path / "new", "a"), (tmp_path / "no" / "folder", "b")])
        assert [path.name for path in tmp_path.iterdir()] == ["there"]
        whole_files.write_together(files, overwrite=True)
        assert (tmp_path / "new").read_text() + (tmp_path / "there").read_text() == "ab"

    def test_a_name_that_is_lost_meanwhile(
        self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The second name is taken by another program when the first file stands already."""
        take = whole_files._take_name

        def slow(draft: Path, target: Path, *, overwrite: bool) -> None:
            if target.name == "second":
                target.write_text("theirs")
            take(draft, target, overwrite=overwrite)

        monkeypatch.setattr(whole_files, "_take_name", slow)
        with pytest.raises(StoredFileError, match=r"second is there already"):
            whole_files.write_together([(tmp_path / "first", "1"), (tmp_path / "second", "2")])
        assert {path.name: path.read_text() for path in tmp_path.iterdir()} == {"second": "theirs"}

    def test_a_name_given_twice(self, tmp_path: Path) -> None:
        with pytest.raises(StoredFileError, match="named twice"):
            whole_files.write_together([(tmp_path / "a", "1"), (tmp_path / "b" / ".." / "a", "2")])
        assert not list(tmp_path.iterdir())

"""Whole-file writing that every writer uses, and the stored form of a registration."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import secrets
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from affine import Affine

from regmap.errors import StoredFileError
from regmap.given import as_path, short
from regmap.outputs import stored_values

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = [
    "FORMAT",
    "SCHEMA_FILE",
    "VERSION",
    "check_free",
    "decode",
    "encode",
    "file_text",
    "json_text",
    "load",
    "save",
    "write_together",
    "write_whole",
]

FORMAT = "regmap registration"
VERSION = 1
MAX_BYTES = 2**26
"""A longer file is not read."""

SCHEMA_FILE = "registration.schema.json"
"""JSON Schema of the stored form; it lies beside this module in the package."""


def write_whole(
    path: str | os.PathLike[str], content: bytes | str, *, overwrite: bool = False
) -> None:
    """Write a file so that other programs see it whole or not at all, even if the power fails.

    The content goes to a new file in the same folder, down to the disk, and then takes the name in
    one step. Text is written as UTF-8 with the line ends it has.

    Raises:
        StoredFileError: if the file is there already and `overwrite` is False, or cannot be
            written. What was there before is then untouched.
    """
    write_together([(path, content)], overwrite=overwrite)


def write_together(
    contents: Iterable[tuple[str | os.PathLike[str], bytes | str]], *, overwrite: bool = False
) -> None:
    """Write several files, given as (path, content), each as `write_whole` does.

    No file takes its name before all are on the disk under another.

    Raises:
        StoredFileError: if one of them is there already and `overwrite` is False, or cannot be
            written. Then none of the new names is taken.
    """
    staged: list[tuple[Path, Path, bytes]] = []
    for path, content in contents:
        check_free(path, overwrite=overwrite)
        target = _real(path)
        # Made with os.open and not with tempfile, so that the permissions are the user's usual.
        draft = target.with_name(f".{target.name[:100]}.{secrets.token_hex(8)}.part")
        if any(target == other for _, other, _ in staged):
            raise StoredFileError(f"{path} is named twice: give each file a name of its own")
        staged.append((draft, target, _as_bytes(path, content)))
    taken: list[Path] = []
    target = Path()
    try:
        for draft, place, data in staged:
            target = place
            _write_to_disk(draft, data)
        for draft, place, _ in staged:
            target = place
            new = not target.exists()
            _take_name(draft, target, overwrite=overwrite)
            taken += [target] * new
    except BaseException as error:  # Ctrl-C as well
        for new_one in taken:
            with contextlib.suppress(OSError):
                new_one.unlink(missing_ok=True)
        if isinstance(error, FileExistsError):
            raise _in_the_way(target) from None
        if isinstance(error, OSError):
            why = error.strerror or error
            raise StoredFileError(f"{target} cannot be written: {why}") from error
        raise
    finally:
        for draft, _, _ in staged:
            with contextlib.suppress(OSError):
                draft.unlink(missing_ok=True)
    for folder in {place.parent for _, place, _ in staged}:
        _settle(folder)


def _as_bytes(path: str | os.PathLike[str], content: bytes | str) -> bytes:
    try:
        return content.encode("utf-8") if isinstance(content, str) else bytes(memoryview(content))
    except TypeError:
        raise StoredFileError(f"{path}: text or bytes are written, not {short(content)}") from None
    except UnicodeEncodeError as error:
        raise StoredFileError(f"{path}: half a pair of surrogates is no text ({error})") from None


def check_free(path: str | os.PathLike[str], *, overwrite: bool = False) -> None:
    """Refuse a name that `write_whole` would refuse, before the work and not after it.

    Raises:
        StoredFileError: if the file is there already and `overwrite` is False, or is a folder.
    """
    target = _real(path)
    if os.path.isdir(target):  # unlike Path.is_dir, for any name
        raise StoredFileError(f"{target} is a folder: give the name of a file in it")
    if os.path.exists(target) and not overwrite:
        raise _in_the_way(target)


def _real(path: str | os.PathLike[str]) -> Path:
    try:
        target = Path(os.path.realpath(as_path(path, "path", error=StoredFileError)))
        os.fsencode(target)
    except ValueError as error:
        if isinstance(error, StoredFileError):
            raise
        raise StoredFileError(f"{short(path)} is no name that a file can have: {error}") from None
    return target


def _in_the_way(target: Path) -> StoredFileError:
    return StoredFileError(f"{target} is there already: choose another name or overwrite=True")


def _write_to_disk(path: Path, data: bytes) -> None:
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    with os.fdopen(os.open(path, flags, 0o666), "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())


def _take_name(draft: Path, target: Path, *, overwrite: bool) -> None:
    if overwrite:
        os.replace(draft, target)
        return
    try:
        os.link(draft, target)  # fails if another program was quicker, where a rename would not
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if target.exists():
            raise FileExistsError(str(target)) from None
        os.replace(draft, target)


def _settle(folder: Path) -> None:
    """Bring the folder's entry to the disk too, where the system can."""
    if os.name != "posix":
        return
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def json_text(value: object) -> str:
    """Return JSON with a line end, in readable characters where UTF-8 can carry them.

    Raises:
        StoredFileError: if something in it is nothing of JSON's, nan and infinity included.
    """
    try:
        text = json.dumps(value, ensure_ascii=False, allow_nan=False, indent=1)
    except (TypeError, ValueError, RecursionError) as error:
        raise StoredFileError(f"{short(value)} cannot be spelled as JSON: {error}") from None
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:  # half a surrogate pair in a name; escaped, it survives
        text = json.dumps(value, ensure_ascii=True, allow_nan=False, indent=1)
    return text + "\n"


def save(fit: Registration, path: str | os.PathLike[str], *, overwrite: bool = False) -> None:
    """Write a registration as a JSON file; see `Registration.save`."""
    write_whole(path, file_text(fit), overwrite=overwrite)


def file_text(fit: Registration) -> str:
    """Return the whole text of the file in which `save` stores a registration."""
    stored = encode(fit)
    stored["checksum"] = _checksum(stored)
    return json_text(stored)


def load(path: str | os.PathLike[str]) -> Registration:
    """Read a registration from a JSON file; see `Registration.load`."""
    place = as_path(path, "path", error=StoredFileError)
    try:
        with place.open("rb") as file:
            data = file.read(MAX_BYTES + 1)
        if len(data) > MAX_BYTES:
            raise StoredFileError(f"{path} is longer than {MAX_BYTES} bytes: it holds no one fit")
        stored = json.loads(
            data.decode("utf-8"), parse_constant=_no_constant, object_pairs_hook=_no_repeats
        )
    except OSError as error:
        raise StoredFileError(f"{path} cannot be read: {error.strerror or error}") from error
    except StoredFileError:
        raise
    except (ValueError, RecursionError) as error:
        raise StoredFileError(
            f"{path} is damaged, or no JSON file ({error}): make it again from its picture"
        ) from None
    try:
        return decode(stored)
    except StoredFileError as error:
        raise StoredFileError(f"{path}: {error}") from None


def _no_constant(name: str) -> float:
    raise ValueError(f"{name} is not a number of JSON")


def _no_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    entries = dict(pairs)
    if len(entries) < len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise ValueError(f"the entry {twice!r} stands twice")
    return entries


def _checksum(stored: Mapping[str, Any]) -> str:
    """Return SHA-256 of the content in one fixed spelling, so that layout does not matter."""
    content = {key: value for key, value in stored.items() if key != "checksum"}
    spelled = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    return "sha256:" + hashlib.sha256(spelled.encode("ascii")).hexdigest()


def encode(fit: Registration) -> dict[str, Any]:
    """Return the stored form: dicts, lists, numbers and texts. nan becomes None."""
    return {"format": FORMAT, "version": VERSION, **_encode_body(fit, parent=None)}


def _encode_body(fit: Registration, parent: Registration | None) -> dict[str, Any]:
    t = fit.transform
    body: dict[str, Any] = {
        "engine": fit.engine,
        "unit": fit.unit,
        "model": fit.model,
        "transform": [[t.a, t.b, t.c], [t.d, t.e, t.f]],
        "confidence": fit.confidence,
        "reprojection_error": stored_values.number(fit.reprojection_error),
        "wall_offset": fit.wall_offset,
        "anchor_px": list(fit.anchor_px),
        "covariance": fit.covariance.tolist(),
        "floor_error": fit.floor_error,
        "image_size": list(fit.image_size),
        "reasons": list(fit.reasons),
        "rooms": [
            {
                "name": room.name,
                "state": room.state,
                "overlap": stored_values.number(room.overlap),
                "rmse_px": stored_values.number(room.rmse_px),
                "support": stored_values.number(room.support),
                "shown": stored_values.number(room.shown),
                "label_px": list(room.label_px),
            }
            for room in fit.rooms
        ],
        "residuals": fit.residuals.tolist(),
    }
    # Alternatives lie on the same outlines, and need not carry them again.
    if parent is None or not _same_outlines(fit, parent):
        body["outlines"] = [
            {"name": name, "rings": [ring.tolist() for ring in rings]}
            for name, rings in fit.outlines.items()
        ]
    body["alternatives"] = [_encode_body(other, parent=fit) for other in fit.alternatives]
    return body


def _same_outlines(one: Registration, other: Registration) -> bool:
    return list(one.outlines) == list(other.outlines) and all(
        len(mine) == len(theirs) and all(map(np.array_equal, mine, theirs))
        for mine, theirs in zip(one.outlines.values(), other.outlines.values(), strict=True)
    )


def decode(stored: Any) -> Registration:
    """Return the registration of its stored form.

    Raises:
        StoredFileError: if something is missing or wrong, or the version is a newer one.
    """
    if not isinstance(stored, Mapping) or stored.get("format") != FORMAT:
        raise StoredFileError(f'this is no stored registration: "format" is not "{FORMAT}"')
    version = stored.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 1:
        raise StoredFileError(f"the version is {version!r}, but it must be a whole number from 1")
    if version > VERSION:
        raise StoredFileError(
            f"this registration is of version {version}, and this program knows versions up to "
            f"{VERSION}: update regmap, or make the registration again"
        )
    try:
        if "checksum" in stored and stored["checksum"] != _checksum(stored):
            raise StoredFileError(
                "the checksum does not match, so that something was changed after writing. If that "
                'was done on purpose, take the "checksum" entry out; otherwise register again'
            )
        return _decode_body(stored, outlines=None)
    except KeyError as error:
        raise StoredFileError(f"the entry {error} is missing") from None
    except StoredFileError:
        raise
    except (
        TypeError,
        ValueError,
        ArithmeticError,
        AttributeError,
        IndexError,
        RecursionError,
    ) as error:
        raise StoredFileError(f"an entry is wrong: {error}") from None


def _decode_body(body: Mapping[str, Any], outlines: Mapping[str, Any] | None) -> Registration:
    from regmap.registration import Registration, RoomFit

    if outlines is None or "outlines" in body:
        outlines = {
            stored_values.text(room["name"]): tuple(
                stored_values.table(ring) for ring in room["rings"]
            )
            for room in body["outlines"]
        }
        if len(outlines) < len(body["outlines"]):
            raise ValueError("two outlines have one name")
    (a, b, c), (d, e, f) = (
        [stored_values.real(value) for value in row] for row in body["transform"]
    )
    width, height = map(stored_values.whole, body["image_size"])
    rooms = tuple(
        RoomFit(
            name=stored_values.text(room["name"]),
            state=room["state"],
            overlap=stored_values.value(room["overlap"]),
            rmse_px=stored_values.value(room["rmse_px"]),
            support=stored_values.value(room["support"]),
            shown=stored_values.value(room["shown"]),
            label_px=stored_values.pair(room["label_px"]),
        )
        for room in body["rooms"]
    )
    return Registration(
        transform=Affine(a, b, c, d, e, f),
        model=body["model"],
        confidence=stored_values.real(body["confidence"]),
        reprojection_error=stored_values.value(body["reprojection_error"]),
        wall_offset=stored_values.real(body["wall_offset"]),
        covariance=stored_values.table(body["covariance"]),
        anchor_px=stored_values.pair(body["anchor_px"]),
        floor_error=stored_values.real(body["floor_error"]),
        image_size=(width, height),
        outlines=outlines,
        rooms=rooms,
        reasons=tuple(map(stored_values.text, stored_values.items(body["reasons"]))),
        alternatives=tuple(
            _decode_body(other, outlines) for other in stored_values.items(body["alternatives"])
        ),
        residuals=stored_values.table(body["residuals"]),
        unit=stored_values.text(body["unit"]),
        engine=stored_values.text(body["engine"]),
    )

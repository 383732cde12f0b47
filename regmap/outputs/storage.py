"""The stored form of a registration: a JSON file with a version, a checksum and a schema."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
from affine import Affine

from regmap.errors import StoredFileError
from regmap.given import as_path
from regmap.inputs.opened import opened
from regmap.outputs import stored_values
from regmap.outputs.whole_files import json_text, write_whole

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = [
    "FORMAT",
    "SCHEMA_FILE",
    "VERSION",
    "decode",
    "encode",
    "file_text",
    "load",
    "save",
]

FORMAT = "regmap registration"
VERSION = 1
MAX_BYTES = 2**26
"""A longer file is not read."""

_WANTED = "give what `regmap register` or Registration.save wrote, or make it from its picture"

SCHEMA_FILE = "registration.schema.json"
"""JSON Schema of the stored form; it lies beside this module in the package."""


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
        with opened(place) as file:
            data = file.read(MAX_BYTES + 1)
        if len(data) > MAX_BYTES:
            raise StoredFileError(f"{path} is longer than {MAX_BYTES} bytes: it holds no one fit")
        # Some editors put a byte order mark in front, which may be ignored (RFC 8259, section 8.1).
        stored = json.loads(
            data.decode("utf-8-sig"), parse_constant=_no_constant, object_pairs_hook=_no_repeats
        )
    except IsADirectoryError:
        raise StoredFileError(f"{path} is a folder: give the file in it") from None
    except OSError as error:
        raise StoredFileError(f"{path} cannot be read: {error.strerror or error}") from error
    except StoredFileError:
        raise
    except UnicodeDecodeError:
        raise StoredFileError(
            f"{path} is damaged, or no text at all, such as a picture: {_WANTED}"
        ) from None
    except (ValueError, RecursionError) as error:
        raise StoredFileError(f"{path} is damaged, or no JSON file ({error}): {_WANTED}") from None
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
        raise StoredFileError(
            f'this is no stored registration ("format" is not "{FORMAT}"): {_WANTED}'
        )
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

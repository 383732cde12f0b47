"""A fit and its proof picture, written into one folder together or not at all."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from regmap.errors import StoredFileError
from regmap.outputs import proof, storage

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = ["PROOF", "REGISTRATION", "check_free", "make", "write_fit"]

REGISTRATION = "registration.json"
PROOF = "proof.png"


def check_free(folder: str | os.PathLike[str], *, overwrite: bool = False) -> None:
    """Refuse a folder in which `write_fit` would overwrite something.

    Raises:
        StoredFileError: if `overwrite` is False and one of the two files is there, or if the name
            belongs to a file.
    """
    place = Path(folder)
    if place.exists() and not place.is_dir():
        raise StoredFileError(f"{place} is a file: give the name of a folder")
    there = [str(place / name) for name in (REGISTRATION, PROOF) if (place / name).exists()]
    if there and not overwrite:
        raise StoredFileError(
            f"{' and '.join(there)} would be overwritten: give another folder, or say that they "
            "may be replaced"
        )


def make(folder: str | os.PathLike[str]) -> Path:
    """Make a folder and those above it, if need be.

    Raises:
        StoredFileError: if that is not possible.
    """
    place = Path(folder)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoredFileError(f"{place} cannot be made: {error.strerror or error}") from error
    return place


def write_fit(
    fit: Registration,
    image: object | None,
    folder: str | os.PathLike[str],
    *,
    overwrite: bool = False,
) -> tuple[Path, Path]:
    """Write registration.json and proof.png into a folder, which is made if need be.

    Returns:
        The paths of the two files.

    Raises:
        StoredFileError: if one of them is there already and `overwrite` is False, or cannot be
            written; then neither is written.
    """
    place = Path(folder)
    check_free(place, overwrite=overwrite)
    picture = proof.png(fit, image)  # what can fail for other reasons comes before any file
    make(place)
    try:
        drafts = Path(tempfile.mkdtemp(prefix=".regmap-", dir=place))
    except OSError as error:
        raise StoredFileError(f"{place} cannot be written to: {error.strerror or error}") from error
    try:
        fit.save(drafts / REGISTRATION)
        storage.write_whole(drafts / PROOF, picture)
        for name in (PROOF, REGISTRATION):
            os.replace(drafts / name, place / name)
    except OSError as error:
        raise StoredFileError(f"{place} cannot be written to: {error.strerror or error}") from error
    finally:
        shutil.rmtree(drafts, ignore_errors=True)
    return place / REGISTRATION, place / PROOF

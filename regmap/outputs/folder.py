"""Files that belong together, written into one folder: all of them or none."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from regmap.errors import StoredFileError
from regmap.given import as_path, mapping, short
from regmap.outputs import storage, whole_files

if TYPE_CHECKING:
    from regmap.registration import Registration

__all__ = ["FIT_FILES", "PROOF", "REGISTRATION", "check_free", "make", "write_files", "write_fit"]

REGISTRATION = "registration.json"
PROOF = "proof.png"
FIT_FILES = (REGISTRATION, PROOF)


def check_free(
    folder: str | os.PathLike[str],
    names: Iterable[str] = FIT_FILES,
    *,
    overwrite: bool = False,
) -> None:
    """Refuse a folder in which files of these names would overwrite something.

    Raises:
        StoredFileError: if `overwrite` is False and one of the files is there, or if the name of
            the folder, or of one that it lies in, belongs to a file.
    """
    place = as_path(folder, "folder", error=StoredFileError)
    if os.path.exists(place) and not os.path.isdir(place):
        raise StoredFileError(f"{place} is a file: give the name of a folder")
    above = next((one for one in place.parents if os.path.exists(one)), place)
    if os.path.exists(above) and not os.path.isdir(above):
        raise StoredFileError(f"{place} cannot be made: {above} is a file")
    there = [str(place / name) for name in names if os.path.exists(place / name)]
    if there and not overwrite:
        raise StoredFileError(
            f"{', '.join(there)} would be overwritten: give another folder, or say that they "
            "may be replaced"
        )


def make(folder: str | os.PathLike[str]) -> Path:
    """Make a folder and those above it, if need be.

    Raises:
        StoredFileError: if that is not possible.
    """
    place = as_path(folder, "folder", error=StoredFileError)
    try:
        place.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or error
        raise StoredFileError(f"{short(str(place))} cannot be made: {why}") from error
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
    from regmap.outputs import proof  # OpenCV, without which stored fits can be used

    picture = proof.png(fit, image)  # what can fail for other reasons comes before any file
    files: dict[str, bytes | str] = {PROOF: picture, REGISTRATION: storage.file_text(fit)}
    drawn, stored = write_files(folder, files, overwrite=overwrite)
    return stored, drawn


def write_files(
    folder: str | os.PathLike[str],
    files: Mapping[str, bytes | str],
    *,
    overwrite: bool = False,
) -> tuple[Path, ...]:
    """Write files, by name, into a folder, which is made if need be: all of them or none.

    Raises:
        StoredFileError: as in `write_fit`.
    """
    mapping(files, "files", error=StoredFileError)
    check_free(folder, files, overwrite=overwrite)
    place = make(folder)
    whole_files.write_together(
        [(place / n, content) for n, content in files.items()], overwrite=overwrite
    )
    return tuple(place / name for name in files)

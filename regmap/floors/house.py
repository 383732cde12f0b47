"""A folder of stored fits: the floors of a house."""

from __future__ import annotations

import os
from pathlib import Path

from regmap.errors import StoredFileError
from regmap.registration import Registration

__all__ = ["load_house"]


def load_house(folder: str | os.PathLike[str]) -> dict[str, Registration]:
    """Load all stored Registrations of a folder, as {name: fit}, sorted by name.

    A floor is a file `NAME.json`, or a folder `NAME` with a `registration.json` in it, as
    `regmap register --out` leaves it. Files whose names begin with a dot, and folders without a
    registration, are passed over.

    Raises:
        StoredFileError: if there is no such folder, or nothing in it; if a file is damaged; if two
            floors have one name.
    """
    if not isinstance(folder, str | os.PathLike):
        raise StoredFileError(f"the house came as {type(folder).__name__}; give a folder's path")
    place = Path(folder)
    if not os.path.isdir(place):  # unlike Path.is_dir, for any name
        raise StoredFileError(f"{place} is no folder: give one that holds stored registrations")
    found = [(path.stem, path) for path in place.glob("*.json")]
    found += [(path.parent.name, path) for path in place.glob("*/registration.json")]
    house: dict[str, Registration] = {}
    for name, path in sorted(found):
        if name.startswith("."):
            continue
        if name in house:
            raise StoredFileError(f"{place} holds two floors called {name!r}: rename one of them")
        house[name] = Registration.load(path)
    if not house:
        raise StoredFileError(
            f"{place} holds no stored registration: save one there first, as NAME.json"
        )
    return house

"""What a command refuses before its work: outputs that would take the place of what is there."""

from __future__ import annotations

import os
from collections.abc import Iterable
from typing import TypeAlias

import click

__all__ = ["check_outputs", "keep"]

_Given: TypeAlias = "str | os.PathLike[str] | None"


def check_outputs(*paths: str | None, force: bool) -> None:
    """Refuse, before the work, files that are there already or that were named twice."""
    from regmap.outputs import whole_files

    named = [path for path in paths if path is not None]
    for path in named:
        if sum(os.path.realpath(path) == os.path.realpath(other) for other in named) > 1:
            raise click.UsageError(f"{path} is named twice: give each output a name of its own")
        whole_files.check_free(path, overwrite=force)


def keep(read: Iterable[_Given], written: Iterable[_Given]) -> None:
    """Refuse an output, even with --force, that would take the place of what is read."""
    kept = {which for path in read if path is not None and (which := _identity(path))}
    for path in written:
        if path is not None and _identity(path) in kept:
            raise click.UsageError(
                f"{os.fspath(path)} is read, and would be lost: give the output another name"
            )


def _identity(path: str | os.PathLike[str]) -> tuple[int, int] | None:
    """Tell files from each other, whatever they are called; None if there is no such file."""
    try:
        found = os.stat(path)
    except (OSError, ValueError):
        return None
    return found.st_dev, found.st_ino

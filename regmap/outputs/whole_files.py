"""Whole-file writing, which every writer uses: other programs see a file whole or not at all."""

from __future__ import annotations

import contextlib
import json
import os
import secrets
from collections.abc import Iterable
from pathlib import Path

from regmap.errors import StoredFileError
from regmap.given import as_path, short

__all__ = ["check_free", "json_text", "write_together", "write_whole"]


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
        StoredFileError: if the file is there already and `overwrite` is False, or is a folder or a
            device, or if there is no folder that it could lie in.
    """
    target = _real(path)
    if os.path.isdir(target):  # unlike Path.is_dir, for any name
        raise StoredFileError(f"{target} is a folder: give the name of a file in it")
    # Taking the name of a device would take it from all programs.
    if os.path.exists(target) and not os.path.isfile(target):
        raise StoredFileError(f"{target} is a device or a pipe: give the name of a file")
    if os.path.exists(target) and not overwrite:
        raise _in_the_way(target)
    if not os.path.isdir(target.parent):
        raise StoredFileError(f"{target} cannot be written: there is no folder {target.parent}")


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

"""Files opened for reading, without waiting for what may never come."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

__all__ = ["opened"]


def opened(path: str | os.PathLike[str]) -> BinaryIO:
    """Open a file for reading its bytes.

    A pipe with a name is refused: who opens one waits until another program writes into it. Pipes
    that a shell opened are taken; they have a name under /dev alone.

    Raises:
        OSError: if there is no such file, or if it is such a pipe.
        ValueError: if no file can be called so.
    """
    place = Path(path)
    real = os.path.realpath(place)
    named = os.path.exists(real) and not real.startswith("/dev/")
    if named and stat.S_ISFIFO(os.stat(real).st_mode):
        why = "it is a pipe, which may never end: give the name of a file"
        raise OSError(errno.ESPIPE, why, str(path))
    return place.open("rb")

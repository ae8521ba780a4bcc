"""A lock that the operating system lets go of when its holder dies, however it dies.

The file stays behind; only the lock on it counts. No process id is ever taken as proof of life.
"""

import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from motiffit.errors import FileError

__all__ = ["Busy", "hold"]

_POLL_S = 0.02
_TAKEN = {errno.EACCES, errno.EAGAIN, errno.EDEADLK}


class Busy(FileError):
    """Somebody else holds the lock."""


if sys.platform == "win32":
    import msvcrt

    def _take(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)

    def _let_go(file: IO[bytes]) -> None:
        file.seek(0)
        msvcrt.locking(file.fileno(), msvcrt.LK_UNLCK, 1)
else:
    import fcntl

    def _take(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def _let_go(file: IO[bytes]) -> None:
        fcntl.flock(file, fcntl.LOCK_UN)


@contextmanager
def hold(path: Path, *, wait_s: float) -> Iterator[None]:
    """Hold the lock of a file, made when there is none.

    Parameters
    ----------
    path
        The lock file.
    wait_s
        How long to wait for another holder; 0 to give up at once.

    Raises
    ------
    Busy
        If another holder does not let go in that time.
    FileError
        If the folder cannot be written, or its disk has no locks.
    """
    try:
        file = path.open("ab")
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror}") from error
    with file:
        _wait_for(file, path, wait_s)
        try:
            yield
        finally:
            _let_go(file)


def _wait_for(file: IO[bytes], path: Path, wait_s: float) -> None:
    """Take the lock as soon as it is free."""
    deadline = time.monotonic() + wait_s
    while True:
        try:
            _take(file)
            return
        except OSError as error:
            if error.errno not in _TAKEN:
                raise FileError(
                    f"cannot lock {path} ({os.strerror(error.errno or 0)}): this disk has no "
                    "locks. Copy the folder to the computer's own disk"
                ) from error
            if time.monotonic() >= deadline:
                raise Busy(f"{path.parent} is in use by another run of motiffit") from error
        time.sleep(_POLL_S)

"""Files written whole or not at all, and the hash that tells whether one has changed."""

import hashlib
import os
import secrets
import stat
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from motiffit.errors import FileError

__all__ = ["content_hash", "write_whole"]


def write_whole(path: Path, content: bytes | Iterable[bytes]) -> None:
    """Write a file so that a reader sees the old content or the new, never a part.

    Parameters
    ----------
    path
        The file.
    content
        All of it, or its parts one after another when it is too large to hold.

    Raises
    ------
    FileError
        If the folder cannot be written or the disk is full; the old file is then untouched.
    """
    temporary = path.with_name(f".motiffit-{secrets.token_hex(8)}.part")
    try:
        with _create(temporary) as file:
            file.writelines([content] if isinstance(content, bytes) else content)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            temporary.chmod(stat.S_IMODE(path.stat().st_mode))
        temporary.replace(path)
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror}") from error
    finally:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)


def _create(path: Path) -> BinaryIO:
    """Open a file that is not there yet; the system applies the umask, as to any new file."""
    return path.open("xb")


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's content as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

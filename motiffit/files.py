"""Files written whole or not at all, and the hash that tells whether one has changed."""

import hashlib
import os
import tempfile
from collections.abc import Iterable
from pathlib import Path

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
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=".motiffit-", suffix=".part")
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror}") from error
    try:
        with os.fdopen(handle, "wb") as file:
            file.writelines([content] if isinstance(content, bytes) else content)
            file.flush()
            os.fsync(file.fileno())
        Path(temporary).chmod(0o644)
        Path(temporary).replace(path)
    except OSError as error:
        raise FileError(f"cannot write {path}: {error.strerror}") from error
    finally:
        Path(temporary).unlink(missing_ok=True)


def content_hash(path: Path) -> str:
    """Return the SHA-256 of a file's content as hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

"""Photos that come in over the page: named safely, limited, looked at before they count."""

import os
import re
import tempfile
import unicodedata
from collections.abc import AsyncIterator
from contextlib import suppress
from pathlib import Path

from motiffit.errors import FileError
from motiffit.ledger import PHOTO_SUFFIXES, Ledger
from motiffit.measure.photo import LIMIT_MEGABYTES

__all__ = ["MOST_PHOTOS", "TooLarge", "put_into_pile", "receive_file", "safe_photo_name"]

MOST_PHOTOS = 5000
"""More than a workshop has; stops a page gone wild from filling the disk."""

_LONGEST = 100  # characters of a name, in any script below the 255 bytes of file systems
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\.|$)", re.IGNORECASE)


class TooLarge(Exception):
    """The photo has more bytes than are taken."""


def safe_photo_name(name: str) -> str:
    r"""Return the plain name under which a photo is kept.

    Raises
    ------
    ValueError
        If it does not end as a photo's name does.

    Examples
    --------
    >>> safe_photo_name("../../etc/passwd.jpg"), safe_photo_name("C:\\bib <1>.JPG")
    ('passwd.jpg', 'bib -1-.JPG')
    """
    last = re.split(r"[/\\]", unicodedata.normalize("NFC", name))[-1]
    plain = "".join("-" if sign in '<>:"|?*' else sign for sign in last if sign.isprintable())
    plain = plain.strip().lstrip(".-~ ")
    stem, dot, suffix = plain.rpartition(".")
    if f".{suffix.lower()}" not in PHOTO_SUFFIXES or not dot:
        raise ValueError("photos end in " + ", ".join(PHOTO_SUFFIXES))
    stem = stem.strip(" .") or "photo"
    if _RESERVED.match(stem):
        stem = f"photo-{stem}"
    return f"{stem[:_LONGEST]}.{suffix}"


async def receive_file(chunks: AsyncIterator[bytes], folder: Path) -> Path:
    """Write what comes in to a hidden file and return its path.

    Raises
    ------
    TooLarge
        If it is more than a photo may have; nothing is left behind.
    FileError
        If it cannot be written.
    """
    path: Path | None = None
    size = 0
    try:
        handle, name = tempfile.mkstemp(dir=folder, prefix=".motiffit-", suffix=".part")
        path = Path(name)
        with os.fdopen(handle, "wb") as file:
            async for chunk in chunks:
                size += len(chunk)
                if size > LIMIT_MEGABYTES * 1e6:
                    raise TooLarge
                file.write(chunk)
    except OSError as error:
        _remove(path)
        raise FileError(f"the photo cannot be written: {error.strerror}") from error
    except BaseException:
        _remove(path)
        raise
    return path


def put_into_pile(part: Path, name: str, ledger: Ledger) -> str:
    """Give a received file its name in the folder; nothing there is ever overwritten.

    Returns
    -------
    str
        The name it got: with a number behind it where the name was taken.
    """
    stem, _, suffix = name.rpartition(".")
    names = (name, *(f"{stem} {number}.{suffix}" for number in range(2, MOST_PHOTOS)))
    try:
        part.chmod(0o644)
        for wanted in names:
            with suppress(FileExistsError):
                # reserves the name, whoever else writes here at the same time
                ledger.path_of(wanted).open("xb").close()
                part.replace(ledger.path_of(wanted))
                return wanted
    except OSError as error:
        raise FileError(f"the photo cannot be written: {error.strerror}") from error
    raise FileError(f"there are too many photos named {name}")


def _remove(path: Path | None) -> None:
    """Remove what was received so far."""
    if path is not None:
        path.unlink(missing_ok=True)

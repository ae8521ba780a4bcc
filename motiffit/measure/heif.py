"""What a HEIC file may hold without bringing down the library that reads it.

HEIC is built of boxes: four bytes of length, four of type, then the content, which may be boxes
again (ISO/IEC 14496-12, 4.2). The table of items (``iinf``, 8.11.6, inside ``meta``) names each
item's type. The decoder (pi-heif 1.4) takes that name for text without looking and, where a broken
file has none, ends the whole process; found by spoiling photos at random (tests/mutations.py).
"""

import re
from collections.abc import Iterator

from motiffit.errors import Refusal

__all__ = ["check_heif"]

_ITEM = re.compile(rb"infe(?P<version>[\x02\x03])...", re.DOTALL)
_ID_BYTES = {b"\x02": 2, b"\x03": 4}  # 8.11.6.2: the id is wider from version 3 on
_PROTECTION_BYTES = 2


def check_heif(content: bytes) -> None:
    """Look at the names in a HEIC file's table of items.

    Raises
    ------
    Refusal
        ``photo-unreadable`` when one of them is no text.
    """
    for table in _boxes(content, b"meta"):
        for item in _ITEM.finditer(table):
            start = item.end() + _ID_BYTES[item["version"]] + _PROTECTION_BYTES
            words = table[start : start + 4]
            if words == b"mime":
                words += _content_type(table, start + 4)
            try:
                words.decode("utf-8")
            except UnicodeDecodeError as error:
                raise Refusal("photo-unreadable", reason="its table of items is broken") from error


def _content_type(table: bytes, start: int) -> bytes:
    """Return the second of the texts that follow a ``mime`` item's type; each ends with zero."""
    return b"".join(table[start:].split(b"\0", 2)[1:2])


def _boxes(content: bytes, kind: bytes) -> Iterator[bytes]:
    """Yield the content of each box of a kind that stands by itself in the file."""
    at = 0
    while at + 8 <= len(content):
        length, header = int.from_bytes(content[at : at + 4], "big"), 8
        if length == 1:  # the length follows in eight bytes
            length, header = int.from_bytes(content[at + 8 : at + 16], "big"), 16
        elif length == 0:  # to the end of the file
            length = len(content) - at
        if length < header:
            return
        if content[at + 4 : at + 8] == kind:
            yield content[at + header : at + length]
        at += length

"""Where a person put blocks of the quilt, kept in ``FOLDER/motiffit/layout.json``."""

import json
from collections.abc import Mapping

from motiffit.files import write_whole
from motiffit.ledger import Ledger

__all__ = ["move_place", "read_places", "write_places"]

_SCHEMA = "motiffit.layout/1"
_NAME = "layout.json"


def read_places(ledger: Ledger) -> dict[str, tuple[int, int]]:
    """Return the row and column, from 1, at which a person put blocks, by photo."""
    try:
        data = json.loads((ledger.home / _NAME).read_bytes())
        if data["schema"] != _SCHEMA:
            return {}
        return {str(photo): (int(row), int(col)) for photo, (row, col) in data["places"].items()}
    except (OSError, ValueError, TypeError, KeyError, AttributeError):
        return {}


def write_places(ledger: Ledger, places: Mapping[str, tuple[int, int]]) -> None:
    """Keep where a person put blocks; what was kept before is forgotten.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    document = json.dumps({"schema": _SCHEMA, "places": places})
    write_whole(ledger.home / _NAME, document.encode("ascii"))


def move_place(ledger: Ledger, photo: str, new_name: str) -> None:
    """Give a photo's place to the name that it has now, if it has a place.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    places = read_places(ledger)
    if photo in places:
        write_places(ledger, {new_name if name == photo else name: places[name] for name in places})

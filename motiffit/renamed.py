"""Photos that got another name: what was said of them goes along, and leaves the old name."""

from typing import Any

from motiffit.corrections import CORRECTABLE, Corrections
from motiffit.garments import move_row
from motiffit.ledger import Entry, Ledger
from motiffit.places import move_place

__all__ = ["follow_renamed"]


def follow_renamed(ledger: Ledger) -> dict[str, str]:
    """Give a photo that was never seen what was said of one of the same content.

    That one is no longer under its name, whether the name is gone or another photo has it now. The
    old name is forgotten, so that no other photo inherits those words; but only once the new name
    has all of them: after a crash in between the next call ends what was begun.

    Returns
    -------
    dict
        The old name by the new one.

    Raises
    ------
    FileError
        If something cannot be written.
    """
    fresh = {
        photo_hash: photo
        for photo in ledger.photos()
        if ledger.entry(photo) is None and (photo_hash := ledger.hash_of(photo))
    }
    followed: dict[str, str] = {}
    for name in (*ledger.photos(), *ledger.gone()) if fresh else ():
        old = ledger.entry(name)
        photo = fresh.get(old.photo_hash) if old else None
        if old is None or photo is None or ledger.hash_of(name) == old.photo_hash:
            continue
        if _hand_on(ledger, old, photo):
            followed[photo] = name
            del fresh[old.photo_hash]
    return followed


def _hand_on(ledger: Ledger, old: Entry, photo: str) -> bool:
    """Hand what was said of a name to another one; False where that has words of its own."""
    origin = f"renamed from {old.photo}"
    said = ledger.said(photo)
    words = _words(old.said)
    if not said.revision:
        if words:
            ledger.tell(photo, words, by=origin)
    elif not any(stamp.by == origin for stamp in said.stamps.values()):
        return False
    move_row(ledger, old.photo, photo)
    move_place(ledger, old.photo, photo)
    ledger.forget(old.photo)
    return True


def _words(said: Corrections) -> dict[str, Any]:
    """Return what was said, by field."""
    values = {name: getattr(said, name) for name in CORRECTABLE}
    return {name: value for name, value in values.items() if value is not None}

"""Photos that got another name: what was said of them goes along."""

from motiffit.corrections import CORRECTABLE
from motiffit.ledger import Ledger

__all__ = ["follow_renamed"]


def follow_renamed(ledger: Ledger) -> dict[str, str]:
    """Give a photo that was never seen the corrections of a vanished one of the same content.

    Returns
    -------
    dict
        The old name by the new one.

    Raises
    ------
    FileError
        If the corrections cannot be written.
    """
    vanished = {
        entry.photo_hash: entry
        for name in ledger.gone()
        if (entry := ledger.entry(name)) is not None and entry.said.revision
    }
    followed: dict[str, str] = {}
    if not vanished:
        return followed
    for photo in ledger.photos():
        if ledger.entry(photo) is not None or ledger.said(photo).revision:
            continue
        entry = vanished.get(ledger.hash_of(photo) or "")
        if entry is not None:
            values = {name: getattr(entry.said, name) for name in CORRECTABLE}
            said = {name: value for name, value in values.items() if value is not None}
            ledger.tell(photo, said, by=f"renamed from {entry.photo}")
            followed[photo] = entry.photo
    return followed

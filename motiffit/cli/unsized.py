"""What a pile's photos lack before a set is chosen or a quilt planned from it."""

from collections.abc import Sequence

from motiffit.cli.choose_text import count_words
from motiffit.cli.terminal import fail, tell_aside
from motiffit.ledger import Ledger
from motiffit.show.rows import Row

__all__ = ["tell_unsized"]

_NAMED = 3


def tell_unsized(ledger: Ledger, rows: Sequence[Row]) -> None:
    """Say which photos of a pile do not count because they were not sized, or not readably.

    Parameters
    ----------
    ledger
        The pile.
    rows
        Those of its photos that were sized.

    Raises
    ------
    typer.Exit
        If there is none that counts because no record can be read.
    """
    known = {row.photo for row in rows}
    unread = ledger.unread(but=known)
    if unread:
        words = (
            f"{count_words(len(unread), 'record')} of {ledger.folder} cannot be read: written by "
            "another version of the program, or damaged. Measure the pile again with 'motiffit "
            "pile', and with the options that you gave it"
        )
        if not rows:
            fail(words)
        tell_aside(words)
    waiting = [name for name in ledger.photos() if name not in known and name not in unread]
    if rows and waiting:
        more = f" and {len(waiting) - _NAMED} more" if len(waiting) > _NAMED else ""
        are = "is" if len(waiting) == 1 else "are"
        tell_aside(
            f"{count_words(len(waiting), 'photo')} of {ledger.folder} {are} not sized yet and not "
            f"counted: {', '.join(waiting[:_NAMED])}{more}. Run 'motiffit pile' first"
        )

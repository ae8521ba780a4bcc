"""A pile on the screen: how many came out how, squares by size, and what needs a person's eye."""

from collections.abc import Callable, Sequence

from motiffit.show.columns import column_text
from motiffit.show.pile_table import not_counted_words, outcome_counts
from motiffit.show.rows import Row, SizeCount, needing_an_eye, size_counts
from motiffit.show.words import outcome_words, wrap_words

__all__ = ["counts_line", "eye_text", "sizes_text"]

_MOST_LINES = 20
"""Of what needs an eye; a screen holds no more, the page has all."""


def counts_line(rows: Sequence[Row]) -> str:
    """Say how many garments there are and how they came out.

    Examples
    --------
    >>> counts_line([])
    'No photo was sized'
    """
    if not rows:
        return "No photo was sized"
    garments = len({row.garment.casefold() for row in rows})
    photos = f" on {len(rows)} photos" if garments != len(rows) else ""
    counted = ", ".join(f"{count} {words}" for words, count in outcome_counts(rows))
    return f"{garments} garment{'' if garments == 1 else 's'}{photos}: {counted or 'none counts'}"


def sizes_text(rows: Sequence[Row]) -> str:
    """Return a table of the squares by finished size; empty when there are none.

    Settled are those that are safe and those that a person accepted.
    """
    counts = size_counts(rows)
    if not counts:
        return ""
    together = SizeCount(
        finished="Together",
        cut="",
        sized=sum(count.sized for count in counts),
        to_check=sum(count.to_check for count in counts),
    )
    cells = [["Finished", "Cut", "Settled", "To check", "Squares"]]
    for count in (*counts, together):
        numbers = (count.sized, count.to_check, count.all)
        cells.append([count.finished, count.cut, *map(str, numbers)])
    rest = not_counted_words(rows)
    return column_text(cells, words=2) + (f"\n  {rest}" if rest else "")


def eye_text(rows: Sequence[Row], *, clean: Callable[[str], str], width: int) -> str:
    """Return what needs a person's eye, the worst first, with reasons; empty when nothing does.

    Parameters
    ----------
    rows
        The pile.
    clean
        Makes a file's name safe for the screen.
    width
        Columns of the screen.
    """
    urgent = needing_an_eye(rows)
    if not urgent:
        return ""
    lines = ["Needs your eye, the most urgent first:"]
    for number, row in enumerate(urgent[:_MOST_LINES], start=1):
        words = f"{clean(row.photo)}: {_answer(row)}; {row.brief_reasons}"
        lines += wrap_words(words, width, first=f"  {number:>2}  ", rest=" " * 6)
    if len(urgent) > _MOST_LINES:
        lines.append(f"      and {len(urgent) - _MOST_LINES} more, all on the page")
    return "\n".join(lines)


def _answer(row: Row) -> str:
    """Return the outcome and the size in a few words."""
    words = outcome_words(row.sizing)
    window = row.sizing.window
    return f"{words} ({window.finished})" if window and words != "Do not cut" else words

"""A pile as a table: the file for a spreadsheet, and the lines on the screen at the end of a run.

What people write (names, notes) goes into the file so that no spreadsheet takes it for a formula.
"""

import csv
import io
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

from motiffit.record import Motif, Sides
from motiffit.show.rows import Row
from motiffit.show.words import COUNT_WORDS, Counted

__all__ = ["COLUMNS", "not_counted_words", "outcome_counts", "row_counted_as", "safe_cell",
           "table_parts"]  # fmt: skip

_NO_SQUARE = {COUNT_WORDS[kind] for kind in ("cuts", "no-motif", "refused")}

_SIDES = ("top", "right", "bottom", "left")
COLUMNS = (
    "photo", "garment", "counts", "outcome", "finished", "cut", "finished_mm", "cut_mm",
    *(f"clearance_{side}_mm" for side in _SIDES),
    "motif_width_mm", "motif_height_mm", "p_clear",
    *(f"cloth_short_{side}_mm" for side in _SIDES),
    "carries", "note", "accepted", "reasons",
)  # fmt: skip
"""Columns of ``pile.csv``; an empty cell means not known or not there."""

_FORMULA_STARTS = tuple("=+-@\t\r\n\uff1d\uff0b\uff0d\uff20")
"""Signs with which a spreadsheet begins a formula, the full-width ones of East Asian keyboards
included, and those that it skips before looking."""


def table_parts(rows: Iterable[Row]) -> Iterator[bytes]:
    """Yield ``pile.csv`` line by line: UTF-8 with the mark by which spreadsheets know it."""
    yield b"\xef\xbb\xbf"
    yield _line(COLUMNS)
    for row in rows:
        yield _line(_cells(row))


def safe_cell(text: str) -> str:
    """Return text that a spreadsheet shows as it is.

    Examples
    --------
    >>> safe_cell("=1+1"), safe_cell("  @SUM(A1)"), safe_cell("romper")
    ("'=1+1", "'  @SUM(A1)", 'romper')
    """
    return f"'{text}" if text.lstrip(" \u00a0").startswith(_FORMULA_STARTS) else text


def outcome_counts(rows: Sequence[Row]) -> list[tuple[str, int]]:
    """Return in words how garments came out, and how many of each; none that are zero."""
    counts = Counter(row_counted_as(row) for row in rows if row.counts)
    return [(words, counts[kind]) for kind, words in COUNT_WORDS.items() if counts[kind]]


def row_counted_as(row: Row) -> Counted:
    """Say what a photo is counted as, after what a person said of it."""
    if row.sizing.outcome == "check" and row.is_settled:
        return "accepted"
    return "cuts" if row.sizing.is_too_small else row.sizing.outcome


def not_counted_words(rows: Sequence[Row]) -> str:
    """Name the garments that are not among squares counted by size; empty where all are."""
    parts = [f"{count} {words}" for words, count in outcome_counts(rows) if words in _NO_SQUARE]
    return f"Not among these: {', '.join(parts)}" if parts else ""


def _line(cells: Iterable[str]) -> bytes:
    """Return one line of the file."""
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerow(cells)
    # a name that is no valid text holds lone surrogates
    return text.getvalue().encode("utf-8", "backslashreplace")


def _cells(row: Row) -> list[str]:
    """Return one photo's cells, in the order of `COLUMNS`."""
    window = row.sizing.window
    return [
        safe_cell(row.photo),
        safe_cell(row.garment),
        _yes_no(row.counts),
        row.sizing.outcome,
        *([window.finished, window.cut] if window else ["", ""]),
        *_numbers([window.finished_mm, window.cut_mm] if window else [None] * 2),
        *_side_cells(window.clearance_mm if window else None),
        *_numbers([m.width_mm, m.height_mm] if (m := _motif(row)) else [None] * 2),
        "" if window is None or window.p_clear is None else f"{window.p_clear:.4f}",
        *_side_cells(window.cloth_short_mm if window else None),
        safe_cell(", ".join(row.flags)),
        safe_cell(row.note),
        _yes_no(row.is_accepted),
        safe_cell(" ".join(message.page_text for message in row.reasons)),
    ]


def _motif(row: Row) -> Motif | None:
    """Return the motif that counts."""
    return row.sizing.motifs[0] if row.sizing.motifs else None


def _side_cells(sides: Sides | None) -> list[str]:
    """Return four lengths, or four empty cells."""
    return _numbers([getattr(sides, name) if sides else None for name in _SIDES])


def _numbers(lengths_mm: Sequence[float | None]) -> list[str]:
    """Return lengths to a hundredth of a millimetre."""
    return ["" if length is None else f"{length:.2f}" for length in lengths_mm]


def _yes_no(value: bool) -> str:
    return "yes" if value else "no"

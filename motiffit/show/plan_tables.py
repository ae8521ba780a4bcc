"""A plan as tables for a spreadsheet: what is cut, and what lies where."""

import csv
import io
from collections.abc import Iterable, Sequence

from motiffit.quilt.plan import Plan
from motiffit.show.pile_table import safe_cell
from motiffit.show.plan_words import shop_lines

__all__ = [
    "CUTTING_COLUMNS",
    "LAYOUT_COLUMNS",
    "SHOPPING_COLUMNS",
    "cutting_table",
    "layout_table",
    "shopping_table",
]

CUTTING_COLUMNS = ("fabric", "use", "strips", "strip_width_mm", "piece_length_mm", "pieces")
"""Columns of ``cutting.csv``. A line is one length cut from strips of one width; ``strips`` is how
many strips of that width the fabric gives in all."""

LAYOUT_COLUMNS = ("row", "column", "number", "garment", "photo", "finished_mm", "cut_mm",
                  "first_side", "pinned", "settled")  # fmt: skip
"""Columns of ``layout.csv``; a plain block has no garment."""


SHOPPING_COLUMNS = ("item", "amount", "for")
"""Columns of ``shopping.csv``."""


def shopping_table(plan: Plan) -> bytes:
    """Return what is to be bought."""
    lines = [(line.item, line.amount, line.detail) for line in shop_lines(plan)]
    return _table(SHOPPING_COLUMNS, lines)


def cutting_table(plan: Plan) -> bytes:
    """Return the cutting list: UTF-8 with the mark by which spreadsheets know it."""
    lines = [
        (need.fabric.name, ", ".join(group.uses), group.strips, float(group.width_mm),
         float(length), count)
        for need in plan.fabrics
        for group in need.groups
        for length, count in group.pieces
    ]  # fmt: skip
    return _table(CUTTING_COLUMNS, lines)


def layout_table(plan: Plan) -> bytes:
    """Return the layout, row by row."""
    numbers = {centre.photo: n for n, centre in enumerate(plan.centres, start=1)}
    lines: list[Sequence[object]] = []
    for cell in plan.layout.cells:
        centre = plan.centre_of(cell)
        known: Sequence[object] = ("", "plain block", "", "", "")
        if centre is not None:
            sizes = (float(centre.finished_mm), float(centre.cut_mm))
            known = (numbers[centre.photo], centre.name, centre.photo, *sizes)
        pinned = "yes" if cell.is_pinned else "no"
        settled = "no" if centre is not None and centre.needs_an_eye else "yes"
        lines.append((cell.row, cell.column, *known, cell.first_side, pinned, settled))
    return _table(LAYOUT_COLUMNS, lines)


def _table(columns: Sequence[str], lines: Iterable[Sequence[object]]) -> bytes:
    """Write a table whose words no spreadsheet takes for a formula."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(columns)
    for line in lines:
        writer.writerow([safe_cell(cell) if isinstance(cell, str) else cell for cell in line])
    return b"\xef\xbb\xbf" + text.getvalue().encode("utf-8", "backslashreplace")

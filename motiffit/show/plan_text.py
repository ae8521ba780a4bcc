"""A plan as text for the terminal."""

from collections.abc import Iterable, Iterator, Sequence

from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import Plan
from motiffit.show.plan_words import (
    block_words,
    count_words,
    cut_lines,
    extension_words,
    first_words,
    grid_words,
    numbers_of,
    quilt_words,
    shop_lines,
    spread_words,
    unsettled_words,
)
from motiffit.show.words import wrap_words

__all__ = ["plan_text"]

_SEVERITY_WORDS = {"error": "Problem", "warning": "Check", "note": "Note"}


def plan_text(plan: Plan, *, width: int = 80) -> str:
    """Return the plan in the order in which a quilter asks: how large, what to buy, how to cut."""
    parts = [
        _section("The quilt", _quilt(plan), width),
        _section("Blocks", _kinds(plan), width),
        _section("To buy", _shopping(plan), width),
        _section("To cut", _cutting(plan), width),
        _section("Extension pieces", _extensions(plan), width),
        _section("Layout", _layout(plan), width),
        _section("Mind", _messages(plan), width),
    ]
    return "\n\n".join(part for part in parts if part)


def _section(title: str, lines: Iterable[str], width: int) -> str:
    """Write a heading and its lines, wrapped; nothing where there are none."""
    wrapped: list[str] = []
    for line in lines:
        is_long = len(line) > width - 2  # short ones keep their columns
        wrapped += wrap_words(line, width, first="  ", rest="      ") if is_long else [f"  {line}"]
    return "\n".join([title, *wrapped]) if wrapped else ""


def _quilt(plan: Plan) -> Iterator[str]:
    """Size and construction."""
    yield quilt_words(plan)
    yield block_words(plan)
    for words in grid_words(plan):
        yield f"or {words}"


def _kinds(plan: Plan) -> Iterator[str]:
    """One line for each centre size."""
    units = plan.options.units
    rows = [("centre", "cut", "blocks", "strips", "half rounds")]
    for kind in plan.kinds:
        block = kind.block
        rows.append(
            (
                format_cut(block.centre_mm, units),
                format_cut(block.cut_centre_mm, units),
                count_words(kind, plan),
                ", ".join(filter(None, (str(len(block.strips)), first_words(kind)))),
                str(block.half_rounds) + ("" if block.is_centred else ", off the middle"),
            )
        )
    yield from _columns(rows)


def _shopping(plan: Plan) -> Iterator[str]:
    """List what to buy, and under each what for."""
    lines = list(shop_lines(plan))
    rows = _columns([(line.item, line.amount) for line in lines])
    for line, row in zip(lines, rows, strict=True):
        yield row
        yield f"    {line.detail}"


def _cutting(plan: Plan) -> Iterator[str]:
    """List the strips of each fabric."""
    for need in plan.fabrics:
        yield f"{need.fabric.name}:"
        for group in need.groups:
            proof = "" if group.is_proven else f" (at least {group.at_least}, not proven)"
            uses = ", ".join(group.uses)
            yield f"  {uses}{proof}"
            rows = [
                (f"    {line.strips} of {line.width}:", line.yields)
                for line in cut_lines(group, plan)
            ]
            yield from _columns(rows)


def _extensions(plan: Plan) -> Iterator[str]:
    """Pieces for garments too small."""
    return (extension_words(piece, plan) for piece in plan.extensions.pieces)


def _layout(plan: Plan) -> Iterator[str]:
    """Garment numbers row by row, and the spread."""
    numbers = numbers_of(plan)
    cells = [numbers.get(cell.photo or "", "-") for cell in plan.layout.cells]
    wide = max(map(len, cells))
    for start in range(0, len(cells), plan.grid.columns):
        row = cells[start : start + plan.grid.columns]
        yield " ".join(cell.rjust(wide) for cell in row)
    yield f"Numbers as on the labels; - is a plain block. {unsettled_words(plan)}".strip()
    yield spread_words(plan)


def _messages(plan: Plan) -> Iterator[str]:
    """Warnings and notes."""
    return (f"{_SEVERITY_WORDS[item.severity]}: {item.text}" for item in plan.messages)


def _columns(rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """Align the cells of all rows."""
    widths = [max(len(row[n]) for row in rows) for n in range(len(rows[0]) - 1)] if rows else []
    for row in rows:
        cells = [cell.ljust(width) for cell, width in zip(row, widths, strict=False)]
        yield "  ".join([*cells, row[-1]])

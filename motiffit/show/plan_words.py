"""The phrases in which a plan is put to a person: on the screen, on paper, on the page."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction

from motiffit.quilt.cutting import FabricNeed, StripGroup
from motiffit.quilt.extension import ExtensionPiece
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import BlockKind, Plan
from motiffit.quilt.stock import CutPattern
from motiffit.quilt.strips import Strip

__all__ = [
    "CutLine",
    "ShopLine",
    "block_words",
    "count_words",
    "cut_lines",
    "extension_words",
    "first_words",
    "grid_words",
    "numbers_of",
    "pattern_words",
    "quilt_words",
    "shop_lines",
    "spread_words",
    "strip_words",
    "turning_words",
    "unsettled_words",
]

_ORDER_WORDS = {
    "log-cabin": "Log cabin: strips go round the centre",
    "courthouse": "Courthouse steps: strips go to opposite sides in pairs",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShopLine:
    """Something to buy: what it is, how much, and what that is for."""

    item: str
    amount: str
    detail: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLine:
    """Strips to cut alike: how many, how wide, and what each yields."""

    strips: int
    width: str
    yields: str


def numbers_of(plan: Plan) -> dict[str, str]:
    """Return the garments' numbers by photo, with a question mark for those not settled yet."""
    return {
        centre.photo: f"{number}{'?' if centre.needs_an_eye else ''}"
        for number, centre in enumerate(plan.centres, start=1)
    }


def unsettled_words(plan: Plan) -> str:
    """Explain the question mark behind some numbers; empty where there is none."""
    if not any(centre.needs_an_eye for centre in plan.centres):
        return ""
    return "A ? marks a centre that is not settled yet: its size may still change."


def count_words(kind: BlockKind, plan: Plan) -> str:
    """Say how many blocks there are of a kind, and how many of them are not settled yet."""
    sides = {cell.photo: cell.first_side for cell in plan.layout.cells}
    unsettled = sum(
        centre.needs_an_eye
        for centre in plan.centres
        if centre.photo in sides and kind.takes(centre, sides[centre.photo])
    )
    return f"{kind.count} ({unsettled} not settled)" if unsettled else str(kind.count)


def quilt_words(plan: Plan) -> str:
    """Name the quilt in a line: rows, columns, size."""
    width, height = (_length(side, plan) for side in (plan.grid.width_mm, plan.grid.height_mm))
    rows, columns = _count(plan.grid.rows, "row"), _count(plan.grid.columns, "block")
    return f"{rows} of {columns}, {width} wide and {height} long before quilting"


def block_words(plan: Plan) -> str:
    """Say how blocks are made."""
    block, cut = _length(plan.block_mm, plan), _length(plan.cut_block_mm, plan)
    allowance = _length(plan.seam_allowance_mm, plan)
    strips = " and ".join(_length(width, plan) for width in plan.strips_mm)
    how = _ORDER_WORDS[plan.options.construction]
    turn = ""
    if plan.options.construction == "log-cabin":
        turn = ", clockwise" if plan.options.is_clockwise else ", counter-clockwise"
    first = f"the first on the {plan.options.first_side}"
    if plan.options.turning != "same":
        first = "the first on the side that the block's label names"
    sewn = f"{how}{turn}, {first}." if strips else ""
    width = f"strips finish {strips}" if strips else "no strips"
    take_up = plan.options.seam_take_up_mm
    more = f"{_length(take_up, plan)} a seam" if take_up else "nothing"
    return (
        f"Blocks finish {block} square (sewn {cut}), {width}, seams {allowance}, {more} added for "
        f"what seams take up. {sewn}"
    ).strip()


def first_words(kind: BlockKind) -> str:
    """Say where blocks of a kind are begun, if others of their centre size are begun elsewhere."""
    return "" if kind.first_side is None else f"first strip: {kind.first_side}"


def turning_words(plan: Plan) -> str:
    """Say what turned blocks ask of the one who sews; empty where all are begun alike."""
    if plan.options.turning == "same" or not any(kind.block.strips for kind in plan.kinds):
        return ""
    if plan.options.scheme == "sides":
        return (
            "The first strip goes to another side from block to block: sew each block by the list "
            "that begins on the side that its label names."
        )
    return (
        "The first strip goes to another side from block to block: begin on the side that the "
        "label names, and go on in the same direction. The lengths and fabrics stay as listed, in "
        "this order."
    )


def grid_words(plan: Plan) -> Iterator[str]:
    """Say which other rows and columns would suit."""
    for grid in plan.other_grids:
        size = _size(grid.width_mm, grid.height_mm, plan)
        if grid.missing:
            rest = _count(grid.missing, "plain block")
        elif grid.spare:
            rest = f"{_count(grid.spare, 'garment')} left over"
        else:
            rest = "every place filled"
        yield f"{_count(grid.rows, 'row')} of {grid.columns}: {size}, {rest}"


def strip_words(strip: Strip, kind: BlockKind, plan: Plan) -> tuple[str, str, str, str]:
    """Give a strip's number, side, fabric and cut size."""
    size = _size(strip.cut_width_mm, strip.cut_length_mm, plan)
    return str(strip.order), strip.side, kind.fabrics[strip.order - 1].name, size


def pattern_words(pattern: CutPattern, plan: Plan) -> str:
    """Name the pieces of a strip, longest first."""
    return _pieces_words(pattern.pieces, plan)


def cut_lines(group: StripGroup, plan: Plan) -> Iterator[CutLine]:
    """Say how to cut strips of one width."""
    width = _length(group.width_mm, plan)
    if group.cutting is None:
        run = _length(group.run_mm or group.width_mm, plan)
        words = f"joined end to end with slanting seams to {run}"
        if group.pieces != ((group.run_mm, 1),):
            words += f", then cut {_pieces_words(group.pieces, plan)}"
        yield CutLine(strips=group.strips, width=width, yields=words)
        return
    for pattern in group.cutting.patterns:
        yield CutLine(strips=pattern.strips, width=width, yields=pattern_words(pattern, plan))


def shop_lines(plan: Plan) -> Iterator[ShopLine]:
    """List all that is to be bought."""
    yield from (_fabric_line(need, plan) for need in plan.fabrics)
    if plan.extensions.pieces:
        pieces = len(plan.extensions.pieces)
        yield ShopLine(
            item="for extension pieces",
            amount=plan.extensions.purchase.words,
            detail=f"{_count(pieces, 'piece')}, if all are of one cloth; scraps will often do",
        )
    if plan.interfacing is not None:
        squares = sum(count for _, _, count in plan.interfacing.squares)
        across = _length(plan.interfacing.cloth_width_mm, plan)
        yield ShopLine(
            item="light fusible interfacing",
            amount=plan.interfacing.purchase.words,
            detail=f"{_count(squares, 'square')}, cloth {across} wide",
        )
    yield _backing_line(plan)
    yield _batting_line(plan)


def spread_words(plan: Plan) -> str:
    """Say how well alike blocks are spread."""
    layout = plan.layout
    if plan.options.arrangement != "spread":
        order = {"rows": "row by row", "outward": "from the middle outward"}
        return f"In the order of the pile, {order[plan.options.arrangement]}."
    if layout.random_spread_cost <= 0:
        return f"Layout cost {layout.cost:.2f}, seed {layout.seed}."
    less = 100 * (1 - layout.spread_cost / layout.random_spread_cost)
    compared = "as alike as" if round(less) == 0 else f"{less:.0f} % less alike than"
    return (
        f"Neighbours are {compared} in a layout by chance "
        f"(cost {layout.cost:.2f}, seed {layout.seed})."
    )


def extension_words(piece: ExtensionPiece, plan: Plan) -> str:
    """Say which piece a garment needs, and where."""
    size = _size(piece.cut_width_mm, piece.cut_length_mm, plan)
    warning = "; its seam would cross the motif" if piece.crosses_motif else ""
    return f"{piece.name}: {piece.side} side, cut {size}{warning}"


def _fabric_line(need: FabricNeed, plan: Plan) -> ShopLine:
    """Amount of one fabric, and why so much."""
    net = _length(need.purchase.net_mm, plan)
    width = _length(need.cloth_width_mm, plan)
    extra = [f"{_length(plan.options.straightening_mm, plan)} to straighten"]
    if plan.options.shrinkage:
        extra.append(f"{float(plan.options.shrinkage) * 100:g} % to shrink")
    strips = _count(need.strips, "strip")
    return ShopLine(
        item=need.fabric.name,
        amount=need.purchase.words,
        detail=f"{strips} across {width} usable: {net}, and {', '.join(extra)}",
    )


def _backing_line(plan: Plan) -> ShopLine:
    """Amount of backing."""
    back = plan.layers.backing
    size = _size(back.width_mm, back.height_mm, plan)
    panel = _length(back.panel_mm, plan)
    cloth = _length(plan.options.backing_width_mm, plan)
    joined = f"{back.panels} lengths of {panel}, joined to run {back.run} the quilt"
    if back.panels == 1:
        joined = f"one length of {panel}"
    return ShopLine(
        item=f"backing, {cloth} usable width",
        amount=plan.layers.backing_purchase.words,
        detail=f"to cover {size}: {joined}",
    )


def _batting_line(plan: Plan) -> ShopLine:
    """Batting package, or its size."""
    batting = plan.layers.batting
    size = _size(batting.width_mm, batting.height_mm, plan)
    if batting.package is None or batting.package_size_mm is None:
        return ShopLine(item="batting", amount=size, detail="larger than the usual packages")
    package = _size(*batting.package_size_mm, plan)
    return ShopLine(
        item="batting", amount=f"1 package, {batting.package} ({package})", detail=f"for {size}"
    )


def _pieces_words(pieces: Iterable[tuple[Fraction, int]], plan: Plan) -> str:
    """Say how many pieces of which lengths."""
    return ", ".join(f"{count} of {_length(length, plan)}" for length, count in pieces)


def _length(length_mm: Fraction, plan: Plan) -> str:
    """Print a length in the plan's units."""
    return format_cut(length_mm, plan.options.units)


def _size(width_mm: Fraction, height_mm: Fraction, plan: Plan) -> str:
    """Print a width and a height, the unit once."""
    width = _length(width_mm, plan).removesuffix(f" {plan.options.units}")
    return f"{width} x {_length(height_mm, plan)}"


def _count(number: int, noun: str) -> str:
    """Say how many."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"

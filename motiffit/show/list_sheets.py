"""Lists to work from: shopping, cutting, extension pieces, interfacing, backing."""

from collections.abc import Sequence

from motiffit.quilt.cutting import StripGroup
from motiffit.quilt.extension import WIDTH_SPARE_MM
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import Plan
from motiffit.show.block_drawing import draw_swatch, fabric_letters
from motiffit.show.flow import MARGIN_MM, Flow
from motiffit.show.plan_words import cut_lines, extension_words, shop_lines

__all__ = ["draw_cautions", "draw_cutting_list", "draw_shopping_list"]

_MOST_BOXES = 24
_BOXES_MM = 31.0
_SWATCH_MM = 6.0
_SHOP_LINE_MM, _DETAIL_LINE_MM = 12.5, 4.4


def draw_shopping_list(flow: Flow, plan: Plan) -> None:
    """List what to buy, each with a box to tick."""
    lines = list(shop_lines(plan))
    narrower = _narrower_words(plan)
    room = 20.0 + _SHOP_LINE_MM * len(lines) + _DETAIL_LINE_MM * len(narrower)
    flow.part("Shopping list", room_mm=room)
    for line in lines:
        flow.need(_SHOP_LINE_MM)
        flow.ticks(1, (line.item, line.amount), (9.0, 95.0))
        words = f"{line.detail}. {narrower[line.item]}" if line.item in narrower else line.detail
        flow.paragraph(words, size_pt=9.5, indent_mm=9.0)


def _narrower_words(plan: Plan) -> dict[str, str]:
    """Say by fabric what to buy where the bolt is narrower, if that is more."""
    width = plan.options.cloth_width_mm - plan.options.narrower_mm
    words = f"If the bolt gives only {format_cut(width, plan.options.units)}"
    return {
        need.fabric.name: f"{words}: {need.narrower.purchase.words}"
        for need in plan.fabrics
        if need.narrower.purchase and need.narrower.purchase.buy_mm > need.purchase.buy_mm
    }


def draw_cutting_list(flow: Flow, plan: Plan) -> None:
    """List what to cut from each fabric, a box for each strip."""
    flow.part("Cutting list", room_mm=90.0)
    width = format_cut(plan.options.cloth_width_mm, plan.options.units)
    flow.paragraph(
        f"Square one end of the fabric, cut strips across it from selvedge to selvedge, and from "
        f"each strip of {width} the pieces named. Longest pieces first."
    )
    draw_cautions(flow, plan, ("cutting",))
    letters = fabric_letters(plan)
    for need in plan.fabrics:
        letter = letters.get(need.fabric.name)
        flow.subheading(f"      {need.fabric.name}" + (f" ({letter})" if letter else ""))
        draw_swatch(flow.sheet, (MARGIN_MM, flow.y - 7.0), need.fabric, _SWATCH_MM)
        for group in need.groups:
            _list_group(flow, plan, group)
    _list_interfacing(flow, plan)
    _list_extensions(flow, plan)
    _list_backing(flow, plan)


def draw_cautions(flow: Flow, plan: Plan, times: Sequence[str]) -> None:
    """Write the cautions that matter at some of the work, and for which garments."""
    for caution in plan.cautions:
        if caution.when in times:
            here = f" Here: {', '.join(caution.garments)}." if caution.garments else ""
            flow.paragraph(f"{caution.topic}. {caution.text}{here}", size_pt=10.5)


def _list_group(flow: Flow, plan: Plan, group: StripGroup) -> None:
    """List strips of one width."""
    width = format_cut(group.width_mm, plan.options.units)
    proof = "the fewest possible" if group.is_proven else f"at least {group.at_least} are needed"
    uses = ", ".join(group.uses)
    flow.paragraph(f"{uses}: {group.strips} x {width} wide ({proof})", bold=True)
    for line in cut_lines(group, plan):
        boxes = line.strips if line.strips <= _MOST_BOXES else 1
        flow.ticks(boxes, (f"{line.strips} x", line.yields), (_BOXES_MM, _BOXES_MM + 13.0))
    if group.cutting is not None:
        units = plan.options.units
        total = ", ".join(f"{n} of {format_cut(length, units)}" for length, n in group.pieces)
        flow.paragraph(f"in all {total}", size_pt=10, indent_mm=_BOXES_MM)


def _list_interfacing(flow: Flow, plan: Plan) -> None:
    """List the squares of interfacing and how they lie in rows."""
    interfacing, units = plan.interfacing, plan.options.units
    if interfacing is None:
        return
    flow.subheading("Interfacing", keep_mm=30.0)
    if interfacing.way == "oversize":
        flow.paragraph("Fuse the squares to the back before the cut, and trim both together.")
    else:
        flow.paragraph("Fuse the squares to the back of the cut centres.")
    for side, finished, count in interfacing.squares:
        words = f"{format_cut(side, units)} square, for centres of {format_cut(finished, units)}"
        flow.ticks(
            count if count <= _MOST_BOXES else 1,
            (f"{count} x", words),
            (_BOXES_MM, _BOXES_MM + 13.0),
        )
    across = format_cut(interfacing.cloth_width_mm, units)
    rows = "; ".join(
        f"{row.rows} x {format_cut(row.depth_mm, units)} deep: "
        + ", ".join(f"{count} of {format_cut(side, units)}" for side, _, count in row.pieces)
        for row in interfacing.nesting.rows
    )
    flow.paragraph(f"Rows across {across}: {rows}.", size_pt=10)


def _list_extensions(flow: Flow, plan: Plan) -> None:
    """List extension pieces."""
    if not plan.extensions.pieces:
        return
    flow.subheading("Extension pieces", keep_mm=24.0)
    spare = format_cut(WIDTH_SPARE_MM[plan.options.units], plan.options.units)
    flow.paragraph(
        f"Straighten the garment's edge with as little loss as you can: the pieces have {spare} to "
        "spare for that; what you trim beyond it, add to them. Sew each on, press, then cut the "
        "square from both together."
    )
    for piece in plan.extensions.pieces:
        flow.ticks(1, (extension_words(piece, plan),), (9.0,))


def _list_backing(flow: Flow, plan: Plan) -> None:
    """List the lengths of the backing."""
    back, units = plan.layers.backing, plan.options.units
    flow.subheading("Backing")
    panel = format_cut(back.panel_mm, units)
    flow.ticks(back.panels, (f"{back.panels} x", panel), (_BOXES_MM, _BOXES_MM + 13.0))
    if back.panels > 1:
        join = format_cut(plan.options.join_mm, units)
        covers = format_cut(back.covers_mm, units)
        need = format_cut(back.width_mm if back.run == "down" else back.height_mm, units)
        flow.paragraph(
            f"Selvedges off, joined with seams of {join}: {covers} across, {need} needed.",
            size_pt=10,
        )

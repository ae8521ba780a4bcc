"""The plan on paper: everything needed at the cutting table and the sewing machine."""

from collections.abc import Callable
from fractions import Fraction

from motiffit.quilt.cautions import FIRST_WORD
from motiffit.quilt.fabrics import assign_fabrics
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import BlockKind, Plan
from motiffit.quilt.setting import place_blocks
from motiffit.quilt.strips import join_widths
from motiffit.show.block_drawing import draw_block, fabric_letters
from motiffit.show.flow import MARGIN_MM, Flow, shorten
from motiffit.show.label_sheet import draw_labels
from motiffit.show.list_sheets import draw_cautions, draw_cutting_list, draw_shopping_list
from motiffit.show.pdf import Paper, Sheet
from motiffit.show.plan_words import (
    block_words,
    count_words,
    first_words,
    grid_words,
    numbers_of,
    quilt_words,
    spread_words,
    strip_words,
    turning_words,
    unsettled_words,
)
from motiffit.show.window_sheet import draw_windows
from motiffit.units import MM_PER_INCH, Units

__all__ = ["plan_pdf"]

_BLOCK_MM, _LEAST_BLOCK_MM = 60.0, 44.0
_STRIP_ROW_MM = 5.4
_LEAST_LAYOUT_MM = 150.0
_TEST_STRIP_MM: dict[Units, Fraction] = {"in": 3 * MM_PER_INCH / 2, "cm": Fraction(40)}
_LEGEND_COLUMNS = 3
_SEVERITY_WORDS = {"error": "Problem", "warning": "Check", "note": "Note"}
_TOLD_ELSEWHERE = {"plan-left-out", "plan-narrower"}  # below, and on the shopping list
_PRESSING_WORDS = {
    "side": "press it away from the centre",
    "open": "press its seam open",
}


def plan_pdf(
    plan: Plan, *, paper: Paper, title: str, thumbnail: Callable[[str], bytes | None]
) -> bytes:
    """Draw all sheets of a plan.

    Parameters
    ----------
    plan
        The plan.
    paper : {'letter', 'a4'}
        What it is printed on.
    title
        Name of the quilt, at the foot of each page.
    thumbnail
        Gives the small picture of a photo as a JPEG file, or None where there is none.

    Returns
    -------
    bytes
        A PDF at true scale: overview, shopping list, layout, cutting list, sewing order, care and
        cautions, labels, viewing windows. A part begins on the page at hand where it fits.
    """
    sheet = Sheet(paper, title=f"Quilt plan: {title}")
    flow = Flow(sheet, running=f"Quilt plan: {title}")
    _draw_overview(flow, plan, title)
    draw_shopping_list(flow, plan)
    _draw_layout(flow, plan)
    draw_cutting_list(flow, plan)
    _draw_sewing(flow, plan)
    _draw_care(flow, plan)
    # what is cut out of the paper comes last
    draw_labels(flow, plan, thumbnail)
    draw_windows(flow, plan)
    return sheet.to_bytes()


def _draw_overview(flow: Flow, plan: Plan, title: str) -> None:
    """Say what quilt this is and what to decide first."""
    flow.part(f"Quilt plan: {title}", room_mm=0.0)
    flow.paragraph(quilt_words(plan), size_pt=13, bold=True)
    flow.paragraph(block_words(plan))
    for words in grid_words(plan):
        flow.paragraph(f"Or {words}.", size_pt=10)
    messages = [message for message in plan.messages if message.code not in _TOLD_ELSEWHERE]
    if messages:
        flow.subheading("Before you begin")
        for message in messages:
            flow.paragraph(f"{_SEVERITY_WORDS[message.severity]}: {message.page_text}")
    if plan.left_out:
        flow.subheading("Photos that give no block")
        for left in plan.left_out:
            flow.paragraph(f"{left.name}: {left.reason}", size_pt=10)


def _draw_layout(flow: Flow, plan: Plan) -> None:
    """Draw where each block lies, with the garments' numbers, and name them."""
    flow.part("Layout", room_mm=_LEAST_LAYOUT_MM + 5.0 * len(plan.centres) / _LEGEND_COLUMNS)
    words = ("Numbers as on the labels; empty blocks are plain.", unsettled_words(plan))
    flow.paragraph(" ".join([*filter(None, words), spread_words(plan)]))
    legend_mm = 4.6 * -(-len(plan.centres) // _LEGEND_COLUMNS) + 10.0
    room = max(min(flow.bottom_mm - flow.y - legend_mm, flow.width_mm * 1.25), _LEAST_LAYOUT_MM / 2)
    scale = min(flow.width_mm / float(plan.grid.width_mm), room / float(plan.grid.height_mm))
    left = MARGIN_MM + (flow.width_mm - float(plan.grid.width_mm) * scale) / 2
    top = flow.y + 4.0
    _draw_top(flow, plan, (left, top), scale)
    flow.y = top + float(plan.grid.height_mm) * scale + 4.0
    _draw_legend(flow, plan)


def _draw_top(flow: Flow, plan: Plan, where: tuple[float, float], scale: float) -> None:
    """Draw the quilt top in greys."""
    width, height = float(plan.grid.width_mm) * scale, float(plan.grid.height_mm) * scale
    x, y = where
    outline = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    flow.sheet.line(outline, closed=True, width_mm=0.3)
    numbers = numbers_of(plan)
    places = place_blocks(plan.grid.rows, plan.grid.columns, plan.setting)
    side = float(plan.block_mm) * scale
    for cell, (left, top) in zip(plan.layout.cells, places, strict=True):
        corner = (x + float(left) * scale, y + float(top) * scale)
        block = plan.block_at(cell)
        if block is None:
            right, bottom = corner[0] + side, corner[1] + side
            plain = [corner, (right, corner[1]), (right, bottom), (corner[0], bottom)]
            flow.sheet.line(plain, closed=True, width_mm=0.15)
            continue
        fabrics = assign_fabrics(block, plan.options.scheme, plan.options.fabrics_in_use)
        words = numbers[cell.photo or ""]
        draw_block(flow.sheet, corner, block, fabrics, side_mm=side, centre_words=words)


def _draw_legend(flow: Flow, plan: Plan) -> None:
    """Name the garments behind the numbers."""
    units, numbers = plan.options.units, numbers_of(plan)
    names = [
        f"{numbers[centre.photo]}  {centre.name} ({format_cut(centre.finished_mm, units)})"
        for centre in plan.centres
    ]
    width = flow.width_mm / _LEGEND_COLUMNS
    for start in range(0, len(names), _LEGEND_COLUMNS):
        flow.need(5.0)
        flow.y += 4.6
        for column, words in enumerate(names[start : start + _LEGEND_COLUMNS]):
            fitted = shorten(words, width_mm=width - 3.0, size_pt=9.5)
            flow.sheet.text((MARGIN_MM + column * width, flow.y), fitted, size_pt=9.5)


def _draw_sewing(flow: Flow, plan: Plan) -> None:
    """Show for each centre size the strips in sewing order."""
    flow.part("Sewing order", room_mm=60.0 + _BLOCK_MM)
    allowance = format_cut(plan.seam_allowance_mm, plan.options.units)
    flow.paragraph(
        f"Lay each strip on the side named, right sides together, and sew with a seam of "
        f"{allowance}; {_PRESSING_WORDS[plan.options.pressing]}, and measure before the next. "
        f"{_seam_test(plan)}"
    )
    if words := turning_words(plan):
        flow.paragraph(words, bold=True)
    for kind in plan.kinds:
        _draw_kind(flow, plan, kind)
    flow.subheading("Mind at the machine and the ironing board", keep_mm=40.0)
    draw_cautions(flow, plan, ("sewing", "pressing"))


def _seam_test(plan: Plan) -> str:
    """Say how to test one's seam: with quarter-inch seams the usual strips of 1 1/2 in."""
    cut = _TEST_STRIP_MM[plan.options.units]
    together = join_widths([cut] * 3, plan.seam_allowance_mm) - 2 * plan.options.seam_take_up_mm
    words = [format_cut(length, plan.options.units) for length in (cut, together)]
    return (
        f"Test your seam first: three strips cut {words[0]} wide must measure {words[1]} across "
        "when sewn together and pressed."
    )


def _draw_kind(flow: Flow, plan: Plan, kind: BlockKind) -> None:
    """Draw a block and list its strips."""
    block, units = kind.block, plan.options.units
    list_mm = _STRIP_ROW_MM * (len(block.strips) + 1)
    side = min(max(list_mm, _LEAST_BLOCK_MM), _BLOCK_MM)  # as large as its list is long
    height = max(side, list_mm) + 4.0 if block.strips else 8.0
    cut, finished = (format_cut(x, units) for x in (block.cut_centre_mm, block.centre_mm))
    title = ", ".join(filter(None, (f"Centre cut {cut} (finished {finished})", first_words(kind))))
    flow.subheading(f"{title}, blocks: {count_words(kind, plan)}", keep_mm=height)
    if not block.strips:
        flow.paragraph("No strips: the centre is the block.")
        return
    top, letters = flow.y + 3.0, fabric_letters(plan)
    draw_block(
        flow.sheet,
        (MARGIN_MM, top),
        block,
        kind.fabrics,
        side_mm=side,
        centre_words=finished,
        letters=letters,
    )
    flow.y = top + 3.5
    first_page = flow.page
    _list_strips(flow, plan, kind, title)
    if flow.page == first_page:
        flow.y = top + height


def _list_strips(flow: Flow, plan: Plan, kind: BlockKind, title: str) -> None:
    """List the strips of a block beside its drawing; what a page cannot hold goes on the next."""
    x, letters = MARGIN_MM + _BLOCK_MM + 8.0, fabric_letters(plan)
    for strip in kind.block.strips:
        if flow.y > flow.bottom_mm:
            flow.start_page()
            flow.subheading(f"{title}, continued")
            flow.skip(6.5)
        number, name, fabric, size = strip_words(strip, kind, plan)
        flow.draw_boxes((x, flow.y + 0.4), 1, 1, _STRIP_ROW_MM)
        flow.sheet.text((x + 6.0, flow.y), f"{number}  {name}", size_pt=11)
        flow.sheet.text((x + 28.0, flow.y), f"{letters[fabric]}  {size}", size_pt=11)
        flow.skip(_STRIP_ROW_MM)


def _draw_care(flow: Flow, plan: Plan) -> None:
    """Say how to use and wash the quilt, and where all cautions come from."""
    flow.part("Care and cautions", room_mm=60.0)
    flow.paragraph(FIRST_WORD, bold=True)
    draw_cautions(flow, plan, ("using", "washing"))
    flow.subheading("Where the cautions of these sheets come from")
    sources = "; ".join(f"{caution.topic}: {caution.source}" for caution in plan.cautions)
    flow.paragraph(f"{sources}.", size_pt=9)

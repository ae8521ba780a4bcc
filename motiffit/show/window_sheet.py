"""Viewing windows: paper frames at true scale to lay on a garment before the cut.

The frame is as wide as the seam allowance: its outer edge is the cut line, its opening what will
show once the square is sewn in. Windows larger than the paper come in halves or quarters.
"""

from collections.abc import Iterator, Sequence

from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import BlockKind, Plan
from motiffit.show.flow import MARGIN_MM, Flow, shorten
from motiffit.show.pdf import draw_ruler, lines_of
from motiffit.show.plan_words import numbers_of

__all__ = ["WINDOW_MARGIN_MM", "draw_windows", "window_tiles"]

Line = list[tuple[float, float]]
Box = tuple[float, float, float, float]

WINDOW_MARGIN_MM = 8.0
"""Left free at the paper's edges; a 7 in square, cut 7 1/2 in, then fits on A4 in one piece."""

_TOP_MM = 27.0
_RULERS_MM = 31.0
_MARK_MM = 5.0
_DASH_MM = (3.0, 2.0)
_JOIN_MM = (6.0, 2.0, 1.0, 2.0)

_INSIDE = (
    "Print at 100 %. Cut the paper along the outer line and cut out the opening along the dashed "
    "line. Lay the frame on the garment: what shows in the opening is what will show in the quilt "
    "({finished}). Keep the motif clear of the frame on all sides, set the middle marks by the "
    "motif, then mark the cloth along the outer edge ({cut})."
)
_TAPE = "Trim each part along the line of dashes and dots, and tape them edge to edge."


def draw_windows(flow: Flow, plan: Plan) -> None:
    """Draw a page or more for each size in use."""
    numbers = numbers_of(plan)
    for kind in plan.kinds:
        users = [
            f"{numbers[centre.photo]} {shorten(centre.name, width_mm=50.0, size_pt=10)}"
            for centre in plan.centres
            if centre.finished_mm == kind.block.centre_mm
        ]
        columns, rows = window_tiles(float(kind.block.cut_centre_mm), flow)
        for row in range(rows):
            for column in range(columns):
                flow.start_page()
                _draw_tile(flow, plan, kind, (column, row), (columns, rows), users)


def window_tiles(cut_mm: float, flow: Flow) -> tuple[int, int]:
    """Return in how many parts, across and down, a window is printed."""
    width = flow.sheet.width_mm - 2 * WINDOW_MARGIN_MM
    height = flow.sheet.height_mm - 2 * WINDOW_MARGIN_MM
    if cut_mm <= min(width, height - _TOP_MM - _RULERS_MM):
        return 1, 1
    if cut_mm <= height - 8.0:
        return 2, 1
    parts = -(-cut_mm // width)
    return int(parts), int(parts)


def _draw_tile(
    flow: Flow,
    plan: Plan,
    kind: BlockKind,
    tile: tuple[int, int],
    tiles: tuple[int, int],
    users: Sequence[str],
) -> None:
    """Draw one part of a window on a page of its own."""
    cut = float(kind.block.cut_centre_mm)
    part = (cut / tiles[0], cut / tiles[1])
    sheet = flow.sheet
    is_whole = tiles == (1, 1)
    left = (sheet.width_mm - cut) / 2 if is_whole else WINDOW_MARGIN_MM
    top = _TOP_MM if is_whole else WINDOW_MARGIN_MM + 2.0
    box = (tile[0] * part[0], tile[1] * part[1], (tile[0] + 1) * part[0], (tile[1] + 1) * part[1])
    with sheet.shifted(left - box[0], top - box[1]):
        _draw_lines(flow, float(plan.seam_allowance_mm), cut, box)
    if is_whole:
        _write_whole(flow, plan, kind, (left, top), users)
        return
    where = (left + part[0] + 6.0, top + 6.0) if tiles[1] == 1 else (left, top + part[1] + 8.0)
    _write_part(flow, plan, kind, where, _part_words(tile, tiles))


def _draw_lines(flow: Flow, allowance: float, cut: float, box: Box) -> None:
    """Draw what of the frame lies in a box; measured from the window's corner."""
    sheet = flow.sheet
    seam = (allowance, allowance, cut - allowance, cut - allowance)
    for rectangle, grey in (((0.0, 0.0, cut, cut), 0.92), (seam, 1.0)):
        sheet.line(_corners(_common(rectangle, box)), closed=True, width_mm=0.0, fill_grey=grey,
                   grey=grey)  # fmt: skip
    for line in _edges(0.0, cut, box):
        sheet.line(line, width_mm=0.4)
    for line in _edges(allowance, cut - allowance, box):
        sheet.line(line, width_mm=0.3, dash_mm=_DASH_MM)
    for line in _middle_marks(allowance, cut):
        if _is_inside(line, box):
            sheet.line(line, width_mm=0.5)
    for line in _joins(cut, box):
        sheet.line(line, width_mm=0.25, dash_mm=_JOIN_MM, grey=0.3)


def _common(one: Box, other: Box) -> Box:
    """Box that two share."""
    return (
        max(one[0], other[0]),
        max(one[1], other[1]),
        min(one[2], other[2]),
        min(one[3], other[3]),
    )


def _corners(box: Box) -> Line:
    """Corners of a box."""
    left, top, right, bottom = box
    return [(left, top), (right, top), (right, bottom), (left, bottom)]


def _edges(low: float, high: float, box: Box) -> Iterator[Line]:
    """Edges of a square, as much of them as lies in a box."""
    left, top, right, bottom = _common((low, low, high, high), box)
    for y in (low, high):
        if box[1] <= y <= box[3]:
            yield [(left, y), (right, y)]
    for x in (low, high):
        if box[0] <= x <= box[2]:
            yield [(x, top), (x, bottom)]


def _middle_marks(allowance: float, cut: float) -> Iterator[Line]:
    """Mark the middle of each side, from the cut line past the seam line."""
    half, inner = cut / 2, allowance + _MARK_MM
    yield [(half, 0.0), (half, inner)]
    yield [(half, cut - inner), (half, cut)]
    yield [(0.0, half), (inner, half)]
    yield [(cut - inner, half), (cut, half)]


def _is_inside(line: Line, box: Box) -> bool:
    """Whether a line lies in a box, its rim included."""
    return all(box[0] <= x <= box[2] and box[1] <= y <= box[3] for x, y in line)


def _joins(cut: float, box: Box) -> Iterator[Line]:
    """Lines along which the parts are taped together."""
    for x in (box[0], box[2]):
        if 0 < x < cut:
            yield [(x, box[1]), (x, box[3])]
    for y in (box[1], box[3]):
        if 0 < y < cut:
            yield [(box[0], y), (box[2], y)]


def _sizes(plan: Plan, kind: BlockKind) -> tuple[str, str]:
    """Finished and cut size in words."""
    units = plan.options.units
    return format_cut(kind.block.centre_mm, units), format_cut(kind.block.cut_centre_mm, units)


def _write_whole(
    flow: Flow, plan: Plan, kind: BlockKind, corner: tuple[float, float], users: Sequence[str]
) -> None:
    """Write round and inside a window that fits on the page."""
    sheet, middle = flow.sheet, flow.sheet.width_mm / 2
    finished, cut = _sizes(plan, kind)
    title = f"Viewing window: finished {finished}, cut {cut}"
    sheet.text((middle, 18.0), title, size_pt=16, bold=True, align="centre")
    side = float(kind.block.cut_centre_mm)
    inside = side - 2 * float(plan.seam_allowance_mm) - 2 * _MARK_MM - 6.0
    place = (corner[0] + (side - inside) / 2, corner[1] + side / 2 - inside / 4)
    size = 9.0 if inside < 60 else 11.0
    sheet.paragraph(
        place, _INSIDE.format(finished=finished, cut=cut), width_mm=inside, size_pt=size
    )
    below = corner[1] + side + 8.0
    room = sheet.height_mm - _RULERS_MM - 8.0 - below
    words = "For " + ", ".join(users)
    lines = lines_of(words, width_mm=flow.width_mm, size_pt=10)
    for number, line in enumerate(lines[: max(0, int(room / 4.6))]):
        sheet.text((MARGIN_MM, below + 4.6 * number), line, size_pt=10)
    _draw_rulers(flow, plan)


def _draw_rulers(flow: Flow, plan: Plan) -> None:
    """Draw the check ruler in the plan's units at the foot of the page."""
    sheet, inches = flow.sheet, plan.options.units == "in"
    count, length = (6, 6 * 25.4) if inches else (15, 150.0)
    left, y = (sheet.width_mm - length) / 2, sheet.height_mm - 25.0
    draw_ruler(sheet, (left, y), units=plan.options.units, count=count)
    words = "Check: lay your ruler here. If the marks differ, print again at 100 %."
    sheet.text((sheet.width_mm / 2, y - 2.5), words, size_pt=9, align="centre")


def _part_words(tile: tuple[int, int], tiles: tuple[int, int]) -> str:
    """Name a part of a window."""
    across = ("left", "right") if tiles[0] == 2 else tuple(f"column {n + 1}" for n in range(9))
    down = ("upper", "lower") if tiles[1] == 2 else tuple(f"row {n + 1}" for n in range(9))
    if tiles[1] == 1:
        return f"{across[tile[0]]} half"
    return f"{down[tile[1]]} {across[tile[0]]} part"


def _write_part(
    flow: Flow, plan: Plan, kind: BlockKind, where: tuple[float, float], part: str
) -> None:
    """Write beside or below a part of a window."""
    sheet = flow.sheet
    finished, cut = _sizes(plan, kind)
    width = sheet.width_mm - WINDOW_MARGIN_MM - where[0]
    y = sheet.paragraph(where, f"Viewing window, {part}", width_mm=width, size_pt=14, bold=True)
    y = sheet.paragraph((where[0], y + 2.0), f"Finished {finished}, cut {cut}.", width_mm=width,
                        size_pt=11)  # fmt: skip
    words = f"{_TAPE} {_INSIDE.format(finished=finished, cut=cut)}"
    y = sheet.paragraph((where[0], y + 2.0), words, width_mm=width, size_pt=10)
    inches = plan.options.units == "in"
    draw_ruler(sheet, (where[0], y + 8.0), units=plan.options.units, count=2 if inches else 5)
    sheet.text((where[0], y + 6.0), "Check with your ruler:", size_pt=9)

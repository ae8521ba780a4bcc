"""Viewing windows: paper frames at true scale to lay on a garment before the cut.

The frame is as wide as the seam allowance: its outer edge is the cut line, its opening what will
show once the square is sewn in. Windows that fit lie inside one another on one page: the opening of
the larger falls out anyway. Windows larger than the paper come in parts.
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise

from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import BlockKind, Plan
from motiffit.show.flow import MARGIN_MM, Flow, shorten
from motiffit.show.pdf import draw_ruler, line_width_mm, lines_of, paragraph_height_mm
from motiffit.show.plan_words import numbers_of

__all__ = ["WINDOW_MARGIN_MM", "draw_windows", "window_tiles"]

Line = list[tuple[float, float]]
Box = tuple[float, float, float, float]

WINDOW_MARGIN_MM = 8.0
"""Left free at the paper's edges; a 7 in square, cut 7 1/2 in, then fits on A4 in one piece."""

_TOP_MM = 27.0
_RULERS_MM = 31.0
_MARK_MM = 5.0
_LEAST_TEXT_MM = 20.0  # lines narrower than this hold hardly a word
_USER_STEP_MM = 4.6
_LEAST_PT = 5.0  # smaller letters are hard to read
_GAP_MM = 0.9  # between the marks of a window and the cut line of the next one inside it
_LEAST_FRAME_MM = 4.0  # narrower ones have no room for their size
_DASH_MM = (3.0, 2.0)
_JOIN_MM = (6.0, 2.0, 1.0, 2.0)

_INSIDE = (
    "Print at 100 %. Cut the paper along the outer line and cut out the opening along the dashed "
    "line. Lay the frame on the garment: what shows in the opening is what will show in the quilt "
    "({finished}). Keep the motif clear of the frame on all sides, set the middle marks by the "
    "motif, then mark the cloth along the outer edge ({cut})."
)
_NESTED = (
    "Print at 100 %. Cut from the outside inwards: each window first along its outer line, then "
    "along its dashed line; the next one falls out. Lay a frame on the garment: what shows in the "
    "opening will show in the quilt. Keep the motif clear of the frame on all sides, set the "
    "middle marks by it, and mark the cloth along the outer edge."
)
_TAPE = "Trim each part along the line of dashes and dots, and tape them edge to edge."


def draw_windows(flow: Flow, plan: Plan) -> None:
    """Draw windows of all sizes in use, the largest first."""
    by_size = {kind.block.cut_centre_mm: kind for kind in plan.kinds}
    largest_first = [by_size[size] for size in sorted(by_size, reverse=True)]
    whole = [kind for kind in largest_first if _tiles_of(kind, flow) == (1, 1)]
    for kind in largest_first:
        if kind not in whole:
            _draw_parts(flow, plan, kind)
    for nest in _nests(whole):
        _draw_nest(flow, plan, nest)


def _tiles_of(kind: BlockKind, flow: Flow) -> tuple[int, int]:
    """In how many parts a size's window is printed."""
    return window_tiles(float(kind.block.cut_centre_mm), flow)


def _nests(largest_first: Sequence[BlockKind]) -> list[list[BlockKind]]:
    """Windows that fit inside one another, marks and all."""
    nests: list[list[BlockKind]] = []
    for kind in largest_first:
        for nest in nests:
            room = float(nest[-1].block.centre_mm) - 2 * (_MARK_MM + _GAP_MM)
            if float(kind.block.cut_centre_mm) <= room:
                nest.append(kind)
                break
        else:
            nests.append([kind])
    return nests


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


def _draw_nest(flow: Flow, plan: Plan, nest: Sequence[BlockKind]) -> None:
    """Draw windows inside one another on a page of their own."""
    flow.start_page()
    sheet, allowance = flow.sheet, float(plan.seam_allowance_mm)
    outer = float(nest[0].block.cut_centre_mm)
    corner = ((sheet.width_mm - outer) / 2, _TOP_MM)
    for kind in nest:
        cut = float(kind.block.cut_centre_mm)
        inset = (outer - cut) / 2
        with sheet.shifted(corner[0] + inset, corner[1] + inset):
            _draw_lines(flow, allowance, cut, (0.0, 0.0, cut, cut))
            if allowance >= _LEAST_FRAME_MM:  # what stands on the frame stays with it
                _write_on_frame(flow, allowance, cut, _sizes(plan, kind))
    _write_nest(flow, plan, nest, corner)


def _write_on_frame(flow: Flow, allowance: float, cut: float, sizes: tuple[str, str]) -> None:
    """Write the sizes on a frame, left of its middle mark; a short one has the finished only."""
    for words in ("finished {}, cut {}".format(*sizes), sizes[0]):
        size = min(9.0, 1.4 * allowance)
        size *= min(1.0, (cut / 2 - 3.0) / line_width_mm(words, size_pt=size))
        if size >= _LEAST_PT:
            break
    flow.sheet.text((2.0, allowance / 2 + 0.12 * size), words, size_pt=size)


def _draw_parts(flow: Flow, plan: Plan, kind: BlockKind) -> None:
    """Draw a window that is larger than the paper, each part on a page of its own."""
    cut, tiles = float(kind.block.cut_centre_mm), _tiles_of(kind, flow)
    left, top = WINDOW_MARGIN_MM, WINDOW_MARGIN_MM + 2.0
    for row, (y, lower) in enumerate(pairwise(_tile_edges(cut, tiles[1]))):
        for column, (x, right) in enumerate(pairwise(_tile_edges(cut, tiles[0]))):
            flow.start_page()
            with flow.sheet.shifted(left - x, top - y):
                _draw_lines(flow, float(plan.seam_allowance_mm), cut, (x, y, right, lower))
            is_half = tiles[1] == 1
            where = (
                (left + right - x + 6.0, top + 6.0) if is_half else (left, top + lower - y + 8.0)
            )
            _write_part(flow, plan, kind, where, _part_words((column, row), tiles))


def _tile_edges(cut: float, tiles: int) -> list[float]:
    """Where parts begin and end along a side; the last end is the cut line itself, not near it."""
    return [*(cut * number / tiles for number in range(tiles)), cut]


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


def _write_nest(
    flow: Flow, plan: Plan, nest: Sequence[BlockKind], corner: tuple[float, float]
) -> None:
    """Write above, inside and below the windows of a page."""
    sheet, middle = flow.sheet, flow.sheet.width_mm / 2
    finished, cut = _sizes(plan, nest[0])
    title = f"Viewing window: finished {finished}, cut {cut}"
    words = _INSIDE.format(finished=finished, cut=cut)
    if len(nest) > 1:
        title = "Viewing windows: finished " + ", ".join(_sizes(plan, kind)[0] for kind in nest)
        words = _NESTED
    sheet.text((middle, 18.0), title, size_pt=16, bold=True, align="centre")
    inside = float(nest[-1].block.centre_mm) - 2 * _MARK_MM - 6.0
    outer = float(nest[0].block.cut_centre_mm)
    size = 8.0 if inside < 75 else 11.0
    y = corner[1] + outer + 8.0
    if _has_room(words, inside, size):
        place = (middle - inside / 2, corner[1] + outer / 2 - inside / 4)
        sheet.paragraph(place, words, width_mm=inside, size_pt=size)
    else:
        y = sheet.paragraph((MARGIN_MM, y), words, width_mm=flow.width_mm, size_pt=8.0) + 1.2
    room = 1 + int((sheet.height_mm - _RULERS_MM - y) / _USER_STEP_MM)
    for number, line in enumerate(_user_lines(flow, plan, nest, room)):
        sheet.text((MARGIN_MM, y + _USER_STEP_MM * number), line, size_pt=10)
    _draw_rulers(flow, plan)


def _has_room(words: str, inside_mm: float, size_pt: float) -> bool:
    """Whether words fit into an opening, begun a quarter of its side above its middle."""
    if inside_mm < _LEAST_TEXT_MM:
        return False
    return paragraph_height_mm(words, width_mm=inside_mm, size_pt=size_pt) <= 0.75 * inside_mm


def _user_lines(flow: Flow, plan: Plan, nest: Sequence[BlockKind], room: int) -> list[str]:
    """Name the garments of each window; where that takes too much room, their numbers."""
    numbers = numbers_of(plan)
    for is_named in (True, False):
        words = []
        for kind in nest:
            users = [
                numbers[centre.photo]
                + (f" {shorten(centre.name, width_mm=50.0, size_pt=10)}" if is_named else "")
                for centre in plan.centres
                if centre.finished_mm == kind.block.centre_mm
            ]
            words.append(f"{_sizes(plan, kind)[0]} for {', '.join(users)}")
        lines = lines_of("; ".join(words) + ".", width_mm=flow.width_mm, size_pt=10)
        if len(lines) <= room:
            return lines
    return lines[: max(0, room)]


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

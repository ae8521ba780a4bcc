"""One label for each garment, to cut out and pin on."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import BytesIO

from PIL import Image

from motiffit.quilt.centre import Centre
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import Plan
from motiffit.show.flow import MARGIN_MM, Flow, shorten
from motiffit.show.pdf import lines_of
from motiffit.show.plan_words import numbers_of
from motiffit.show.rows import BRIEF

__all__ = ["draw_labels"]

Thumbnail = Callable[[str], bytes | None]
_Text = tuple[str, float, bool]  # words, size in points, bold

_GAP_MM = 4.0
_PER_ROW = 2
_FEWEST_ROWS, _MOST_ROWS = 4, 6
_PICTURE_MM = 38.0
_PAD_MM = 3.0
_LINE_MM_PER_PT = 1.18 * 25.4 / 72
_NAME_FONT = (12.0, True)  # size in points, bold


@dataclass(frozen=True, slots=True)
class _Place:
    """Where a label lies on its page."""

    left: float
    top: float
    width: float
    height: float


def draw_labels(flow: Flow, plan: Plan, thumbnail: Thumbnail) -> None:
    """Draw the labels of all garments that have a block, in the order of their numbers.

    As many to a page as leave none of the pages nearly empty. ``thumbnail`` gives the small picture
    of a photo as a JPEG file, or None.
    """
    cells = {cell.photo: cell for cell in plan.layout.cells if cell.photo}
    numbers = numbers_of(plan)
    used = [centre for centre in plan.centres if centre.photo in cells]
    rows = _rows_per_page(len(used))
    for count, centre in enumerate(used):
        spot = count % (_PER_ROW * rows)
        if spot == 0:
            flow.start_page()
        cell = cells[centre.photo]
        place = _place(flow, spot, rows)
        _draw_frame(flow, place)
        _draw_picture(flow, place, thumbnail(centre.photo))
        where = f"row {cell.row}, block {cell.column}"
        if plan.options.turning != "same":
            where += f"; first strip: {cell.first_side}"
        _write(flow, plan, place, numbers[centre.photo], centre, where)


def _rows_per_page(labels: int) -> int:
    """Return how many rows of labels a page gets: the fewest pages, evenly filled."""
    pages = -(-labels // (_PER_ROW * _MOST_ROWS)) or 1
    return min(max(-(-labels // (_PER_ROW * pages)), _FEWEST_ROWS), _MOST_ROWS)


def _place(flow: Flow, spot: int, rows: int) -> _Place:
    """Place of a label by its number on the page."""
    width = (flow.width_mm - (_PER_ROW - 1) * _GAP_MM) / _PER_ROW
    height = (flow.bottom_mm - MARGIN_MM - (rows - 1) * _GAP_MM) / rows
    row, column = divmod(spot, _PER_ROW)
    return _Place(
        MARGIN_MM + column * (width + _GAP_MM), MARGIN_MM + row * (height + _GAP_MM), width, height
    )


def _draw_frame(flow: Flow, place: _Place) -> None:
    """Draw the line to cut along."""
    left, top = place.left, place.top
    right, bottom = left + place.width, top + place.height
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    flow.sheet.line(corners, closed=True, grey=0.5, dash_mm=(2.0, 1.6))


def _draw_picture(flow: Flow, place: _Place, content: bytes | None) -> None:
    """Put the small picture at the left."""
    if content is None:
        return
    with Image.open(BytesIO(content)) as picture:
        width, height = picture.size
    scale = min(_PICTURE_MM / width, (place.height - 2 * _PAD_MM) / height)
    where = (place.left + _PAD_MM, place.top + _PAD_MM)
    flow.sheet.image(where, content, width_mm=width * scale, height_mm=height * scale)


def _write(flow: Flow, plan: Plan, place: _Place, number: str, centre: Centre, where: str) -> None:
    """Write what is to be known of the garment, the sizes largest, what must not be lost first."""
    units = plan.options.units
    left = place.left + _PAD_MM + _PICTURE_MM + 3.0
    width = place.left + place.width - _PAD_MM - left
    room = place.height - 2 * _PAD_MM
    needed = [
        (f"cut {format_cut(centre.cut_mm, units)}", 14.0, True),
        *((words, 10.0, True) for words in _warnings(plan, centre)),
        (where, 11.0, False),
        (f"finished {format_cut(centre.finished_mm, units)}", 11.0, False),
        (_concerns(centre), 9.0, False),
    ]
    name = f"{number}  {centre.name}"
    lines = _wrap([(_fit_name(name, 2, width), *_NAME_FONT), *needed], width)
    if _height_mm(lines) > room:
        lines = _wrap([(_fit_name(name, 1, width), *_NAME_FONT), *needed], width)
    y = place.top + _PAD_MM
    for words, size, bold in [*lines, *_wrap([(centre.note.note, 10.0, False)], width)]:
        y += size * _LINE_MM_PER_PT
        if y <= place.top + _PAD_MM + room:
            flow.sheet.text((left, y), words, size_pt=size, bold=bold)


def _fit_name(name: str, lines: int, width_mm: float) -> str:
    """Shorten a garment's number and name to so many lines."""
    size, bold = _NAME_FONT
    # where a line ends between two words, some of its width is lost
    room = width_mm if lines == 1 else (lines - 0.1) * width_mm
    return shorten(name, width_mm=room, size_pt=size, bold=bold)


def _wrap(texts: Sequence[_Text], width_mm: float) -> list[_Text]:
    """Break texts into lines, of none more than three."""
    return [
        (line, size, bold)
        for words, size, bold in texts
        for line in lines_of(words, width_mm=width_mm, size_pt=size, bold=bold)[:3]
    ]


def _height_mm(lines: Sequence[_Text]) -> float:
    """Height of lines under one another."""
    return sum(size for _, size, _ in lines) * _LINE_MM_PER_PT


def _concerns(centre: Centre) -> str:
    """Name what to look at before the cut, the most urgent first."""
    if not centre.needs_an_eye:
        return ""
    known = sorted(BRIEF[code] for code in centre.concern_codes if code in BRIEF)
    return "; ".join(words for _, words in known)


def _warnings(plan: Plan, centre: Centre) -> list[str]:
    """Name what is to be done before the cut."""
    pieces = [piece for piece in plan.extensions.pieces if piece.photo == centre.photo]
    sides = ", ".join(piece.side for piece in pieces)
    words = ["CHECK before you cut"] if centre.needs_an_eye else []
    if any(piece.crosses_motif for piece in pieces):
        return [*words, "cloth ends at the motif"]
    return words + ([f"extension: {sides}"] if pieces else [])

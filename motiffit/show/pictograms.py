"""The small drawings on printed sheets: each fills a panel of PANEL_MM, drawn from its corner."""

from math import cos, pi, sin

from motiffit.record import Point
from motiffit.show.pdf import Sheet

__all__ = ["PANEL_MM", "draw_beside_garment", "draw_not_on_folds", "draw_phone_above"]

PANEL_MM = (58.0, 34.0)

# Half of a bodysuit from the middle of its neck down, mm right of its axis and below its top.
_BODYSUIT_HALF: tuple[Point, ...] = (
    (0.0, 3.0), (2.2, 2.5), (3.6, 0.6), (6.0, 0.0), (13.0, 4.5), (10.8, 9.6), (7.4, 7.8),
    (7.4, 17.0), (6.6, 19.6), (2.6, 24.2), (0.0, 24.2),
)  # fmt: skip


def draw_beside_garment(sheet: Sheet) -> None:
    """From above: garment and card side by side, both inside the camera's frame."""
    _draw_viewfinder(sheet)
    with sheet.shifted(21.0, 4.8):
        mirrored = [(-x, y) for x, y in reversed(_BODYSUIT_HALF)]
        sheet.line([*_BODYSUIT_HALF, *mirrored], closed=True, width_mm=0.35, fill_grey=0.9)
        sheet.line(_heart((0.0, 11.5), 3.0), closed=True, width_mm=0.3, fill_grey=0.45)
    with sheet.shifted(38.5, 14.0):
        _draw_card(sheet, 8.4)
    _draw_tick(sheet)


def draw_phone_above(sheet: Sheet) -> None:
    """From the side: the phone level above garment and card, looking straight down."""
    lens, table_y = (29.0, 6.6), 29.0
    for x in (7.0, 51.0):
        sheet.line([lens, (x, table_y - 1.2)], width_mm=0.2, grey=0.3, dash_mm=(1.2, 1.0))
    sheet.line([(19, 4), (39, 4), (39, 6), (19, 6)], closed=True, width_mm=0.35, fill_grey=0.8)
    sheet.circle((29.0, 6.0), 0.7, fill_grey=0.0)
    sheet.line([(4.0, table_y), (54.0, table_y)], width_mm=0.7)
    garment = [
        (13, table_y - 0.6),
        (13.6, table_y - 1.6),
        (34.4, table_y - 1.6),
        (35, table_y - 0.6),
    ]
    sheet.line(garment, closed=True, width_mm=0.3, fill_grey=0.9)
    sheet.line([(39.0, table_y - 0.8), (46.0, table_y - 0.8)], width_mm=0.7)
    _draw_tick(sheet)


def draw_not_on_folds(sheet: Sheet) -> None:
    """From the side: a card bent over crumpled cloth, marked as wrong."""
    table_y = 29.0
    steps = [6.0 + 0.5 * step for step in range(93)]
    folds = [(x, table_y - 4.4 - 3.4 * sin((x - 6.0) / 46.0 * 6 * pi)) for x in steps]
    card = [
        (18.6 + 0.5 * step, table_y - 11.6 + 3.0 * cos((step / 42.0 - 0.5) * 2.2 * pi))
        for step in range(43)
    ]
    sheet.line([(4.0, table_y), (54.0, table_y)], width_mm=0.7)
    sheet.line(folds, width_mm=0.4)
    sheet.line(card, width_mm=1.0)
    for start, end in (((47.0, 4.0), (53.0, 10.0)), ((47.0, 10.0), (53.0, 4.0))):
        sheet.line([start, end], width_mm=1.0)


def _draw_card(sheet: Sheet, side_mm: float) -> None:
    """Draw the card from above, its marker hinted at."""
    corners = [(0.0, 0.0), (side_mm, 0.0), (side_mm, side_mm), (0.0, side_mm)]
    sheet.line(corners, closed=True, fill_grey=1.0)
    module_mm = side_mm / 8
    border = [(n, end) for n in range(1, 7) for end in (1, 6)]
    black = [*border, *((row, column) for column, row in border), (3, 3), (4, 4)]
    sheet.solid(
        [(x * module_mm, y * module_mm, module_mm, module_mm) for x, y in sorted(set(black))]
    )


def _draw_tick(sheet: Sheet) -> None:
    """Mark a panel as right."""
    sheet.line([(47.0, 7.2), (49.2, 9.8), (53.2, 4.0)], width_mm=1.0)


def _draw_viewfinder(sheet: Sheet) -> None:
    """Draw the four corners of what the camera sees."""
    width, height = PANEL_MM
    for x, inward_x in ((2.0, 4.0), (width - 2.0, -4.0)):
        for y, inward_y in ((0.5, 4.0), (height - 0.5, -4.0)):
            sheet.line([(x + inward_x, y), (x, y), (x, y + inward_y)], width_mm=0.5)


def _heart(centre: Point, half_width_mm: float) -> list[Point]:
    """Return the outline of a heart (x = 16 sin^3 t and its usual companion for y)."""
    scale = half_width_mm / 16
    angles = [2 * pi * step / 48 for step in range(48)]
    return [
        (
            centre[0] + scale * 16 * sin(t) ** 3,
            centre[1] - scale * (13 * cos(t) - 5 * cos(2 * t) - 2 * cos(3 * t) - cos(4 * t)),
        )
        for t in angles
    ]

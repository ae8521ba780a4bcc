"""Sheets to print at true scale. So far: the reference card."""

from fractions import Fraction

from motiffit.errors import UsageError
from motiffit.marker import MODULES_PER_SIDE, marker_id_for
from motiffit.show.marker_bits import black_modules
from motiffit.show.pdf import PAPER_MM, PRINT_MARGIN_MM, Paper, Sheet, draw_ruler
from motiffit.show.pictograms import (
    PANEL_MM,
    draw_beside_garment,
    draw_not_on_folds,
    draw_phone_above,
)
from motiffit.show.words import format_down, format_up
from motiffit.units import Units, format_length, format_side

__all__ = ["CARD_MARK", "card_pdf"]

CARD_MARK = "motiffit reference card"
"""Subject of the PDF, by which a card is known again and may be replaced."""

LEAST_CARD_MM = 25
"""A smaller square would be some 50 pixels wide in a photo that shows a whole garment."""

_WOBBLE_MM = 1.0
"""How far scissors may stray from the line before the white margin gets too narrow."""

_CARD_TOP_MM = 30.0
_SCALES_HEIGHT_MM = 51.0
_STEPS_HEIGHT_MM = 54.0
_RULER_COUNT: dict[Units, int] = {"in": 6, "cm": 15}
_TEXT_WIDTH_MM = 152.4  # as wide as the scales


def card_pdf(side_mm: Fraction, *, paper: Paper, units: Units) -> bytes:
    """Draw the reference card with its check scales and how to use it.

    Parameters
    ----------
    side_mm
        Side of the marker's black square, as printed.
    paper : {'letter', 'a4'}
        What it is printed on.
    units : {'in', 'cm'}
        In which units its text speaks.

    Returns
    -------
    bytes
        A PDF; the second page, if any, holds what did not fit under a large card.

    Raises
    ------
    UsageError
        If no marker stands for that side, or the card does not fit on the paper.
    """
    trim_mm = _trim_side_mm(side_mm, paper, units)
    title = f"Reference card, {format_side(side_mm, units)}"
    sheet = Sheet(paper, title=title, subject=CARD_MARK)
    _draw_heading(sheet)
    with sheet.shifted((sheet.width_mm - trim_mm) / 2, _CARD_TOP_MM):
        _draw_card(sheet, side_mm, trim_mm)
    scales_top = _CARD_TOP_MM + trim_mm
    with sheet.shifted((sheet.width_mm - _TEXT_WIDTH_MM) / 2, scales_top):
        _draw_scales(sheet, side_mm, units)
    steps_top = scales_top + _SCALES_HEIGHT_MM
    if steps_top + _STEPS_HEIGHT_MM > sheet.height_mm - PRINT_MARGIN_MM:
        sheet.new_page()
        steps_top = PRINT_MARGIN_MM
    with sheet.shifted(PRINT_MARGIN_MM, steps_top):
        _draw_steps(sheet)
    sheet.text(
        (sheet.width_mm / 2, sheet.height_mm - 8.0),
        f"motiffit card, {format_side(side_mm, units)}, marker {marker_id_for(side_mm)}",
        size_pt=7,
        align="centre",
        grey=0.35,
    )
    return sheet.to_bytes()


def _trim_side_mm(side_mm: Fraction, paper: Paper, units: Units) -> float:
    """Return the side along which the card is cut out, white margin included."""
    margin_mm = float(side_mm) / MODULES_PER_SIDE + _WOBBLE_MM
    width_mm, height_mm = PAPER_MM[paper]
    room_mm = min(
        width_mm - 2 * PRINT_MARGIN_MM,
        height_mm - PRINT_MARGIN_MM - _CARD_TOP_MM - _SCALES_HEIGHT_MM,
    )
    largest_mm = (room_mm - 2 * _WOBBLE_MM) / (1 + 2 / MODULES_PER_SIDE)
    if not LEAST_CARD_MM <= side_mm <= largest_mm:
        least, largest = format_up(LEAST_CARD_MM, units), format_down(largest_mm, units)
        raise UsageError(f"on {paper} paper the card's side must lie between {least} and {largest}")
    try:
        marker_id_for(side_mm)
    except ValueError as error:
        raise UsageError(
            "the card's side must be whole millimetres or sixteenths of an inch, "
            f"not {float(side_mm):g} mm"
        ) from error
    return float(side_mm) + 2 * margin_mm


def _draw_heading(sheet: Sheet) -> None:
    """Write what this sheet is."""
    middle = sheet.width_mm / 2
    sheet.text((middle, 16.0), "Reference card", size_pt=20, bold=True, align="centre")
    sheet.text(
        (middle, 22.2),
        "Lies beside the garment in every photo, so that sizes can be read from it.",
        size_pt=10,
        align="centre",
    )


def _draw_card(sheet: Sheet, side_mm: Fraction, trim_mm: float) -> None:
    """Draw the marker inside the line along which it is cut out."""
    outline = [(0.0, 0.0), (trim_mm, 0.0), (trim_mm, trim_mm), (0.0, trim_mm)]
    sheet.line(outline, closed=True, grey=0.5, dash_mm=(2.0, 1.6))
    sheet.text(
        (trim_mm / 2, -1.2),
        "cut along the dashed line; the white margin belongs to the card",
        size_pt=7,
        align="centre",
        grey=0.35,
    )
    module_mm = float(side_mm) / MODULES_PER_SIDE
    margin_mm = (trim_mm - float(side_mm)) / 2
    sheet.solid([
        (margin_mm + column * module_mm, margin_mm + row * module_mm, module_mm, module_mm)
        for row, modules in enumerate(black_modules(marker_id_for(side_mm)))
        for column, is_black in enumerate(modules)
        if is_black
    ])  # fmt: skip


def _draw_scales(sheet: Sheet, side_mm: Fraction, units: Units) -> None:
    """Draw an inch and a centimetre scale, and say how to check the print with them."""
    side = format_side(side_mm, units)
    smaller = format_length(side_mm * Fraction(31, 32), units)
    sheet.text((0.0, 8.0), "1   Check the print", size_pt=11, bold=True)
    after = sheet.paragraph(
        (0.0, 13.0),
        "Print at 100 % (\u201cactual size\u201d), never \u201cfit to page\u201d. Measure the "
        f"black square: each side must be {side}, and your ruler must agree with both scales. If "
        "not, print again, or give the side that you measured with every photo, for instance:",
        width_mm=_TEXT_WIDTH_MM,
    )
    sheet.text((0.0, after), f'motiffit size photo.jpg --side "{smaller}"', fixed=True)
    draw_ruler(sheet, (0.0, 29.5), units="in", count=_RULER_COUNT["in"])
    draw_ruler(sheet, (0.0, 50.0), units="cm", count=_RULER_COUNT["cm"], hanging=False)


def _draw_steps(sheet: Sheet) -> None:
    """Draw how the card is laid and photographed, from the left margin on."""
    pitch_mm = (sheet.width_mm - 2 * PRINT_MARGIN_MM - PANEL_MM[0]) / 2
    steps = (
        (draw_beside_garment, "2   Lay it flat beside the garment",
         "Level with the cloth and close to the motif, all of the garment and the card in frame."),
        (draw_phone_above, "3   Hold the phone flat above",
         "Straight down, not at a slant; garment and card fill the frame. No zoom, no shadow."),
        (draw_not_on_folds, "4   Not on folds",
         "The card must lie flat, with nothing on it. Glued on cardboard it stays so."),
    )  # fmt: skip
    for number, (draw_panel, heading, words) in enumerate(steps):
        with sheet.shifted(number * pitch_mm, 0.0):
            sheet.text((0.0, 8.0), heading, size_pt=11, bold=True)
            with sheet.shifted(0.0, 11.0):
                draw_panel(sheet)
            sheet.paragraph((0.0, 49.5), words, width_mm=PANEL_MM[0], size_pt=8.5)

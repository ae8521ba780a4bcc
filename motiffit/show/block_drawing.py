"""Blocks drawn in shades of grey, so that they read in black and white: strips numbered."""

from collections.abc import Mapping, Sequence

from motiffit.quilt.colour import to_lab
from motiffit.quilt.options import Fabric
from motiffit.quilt.plan import Plan
from motiffit.quilt.strips import Block, Frame
from motiffit.show.pdf import Sheet

__all__ = ["draw_block", "draw_swatch", "fabric_letters", "grey_of"]

# black writing stays readable on the darkest shade
_DARKEST, _LIGHTEST = 0.55, 0.97
_MM_PER_PT = 25.4 / 72


def fabric_letters(plan: Plan) -> dict[str, str]:
    """Give each strip fabric a letter: shades of grey alone do not tell red from green."""
    names = list(dict.fromkeys(fabric.name for fabric in plan.options.fabrics_in_use))
    return {name: chr(ord("A") + number % 26) for number, name in enumerate(names)}


def grey_of(fabric: Fabric) -> float:
    """Return the shade of grey (0 black to 1 white) that stands for a fabric."""
    lightness = to_lab(fabric.colour)[0] / 100
    return _DARKEST + (_LIGHTEST - _DARKEST) * lightness


def draw_block(
    sheet: Sheet,
    where: tuple[float, float],
    block: Block,
    fabrics: Sequence[Fabric],
    *,
    side_mm: float,
    centre_words: str,
    letters: Mapping[str, str] | None = None,
) -> None:
    """Draw a block as large as wished, its top left corner at a point.

    With ``letters`` the strips carry their number and the letter of their fabric.
    """
    scale = side_mm / float(block.width_mm)
    for strip, fabric in zip(block.strips, fabrics, strict=True):
        _draw_frame(sheet, where, strip.place, scale, grey_of(fabric))
        if letters is not None:
            words = f"{strip.order}{letters.get(fabric.name, '')}"
            _write_in(sheet, where, strip.place, scale, words, largest_pt=9.0)
    _draw_frame(sheet, where, block.centre_place, scale, 1.0)
    _write_in(sheet, where, block.centre_place, scale, centre_words, largest_pt=20.0)


def draw_swatch(sheet: Sheet, where: tuple[float, float], fabric: Fabric, side_mm: float) -> None:
    """Draw a small square of a fabric's shade, its top left corner at a point."""
    x, y = where
    corners = [(x, y), (x + side_mm, y), (x + side_mm, y + side_mm), (x, y + side_mm)]
    sheet.line(corners, closed=True, fill_grey=grey_of(fabric))


def _draw_frame(
    sheet: Sheet, where: tuple[float, float], frame: Frame, scale: float, grey: float
) -> None:
    """Draw a piece of the block."""
    left, top = where[0] + float(frame.left_mm) * scale, where[1] + float(frame.top_mm) * scale
    right = left + float(frame.width_mm) * scale
    bottom = top + float(frame.height_mm) * scale
    corners = [(left, top), (right, top), (right, bottom), (left, bottom)]
    sheet.line(corners, closed=True, fill_grey=grey, width_mm=0.15)


def _write_in(
    sheet: Sheet,
    where: tuple[float, float],
    frame: Frame,
    scale: float,
    words: str,
    *,
    largest_pt: float,
) -> None:
    """Write in the middle of a piece, as large as fits."""
    width, height = float(frame.width_mm) * scale, float(frame.height_mm) * scale
    size = min(largest_pt, 0.8 * height / _MM_PER_PT, 1.3 * width / _MM_PER_PT / len(words or " "))
    middle = (
        where[0] + float(frame.left_mm) * scale + width / 2,
        where[1] + float(frame.top_mm) * scale + height / 2 + 0.35 * size * _MM_PER_PT,
    )
    sheet.text(middle, words, size_pt=size, align="centre")

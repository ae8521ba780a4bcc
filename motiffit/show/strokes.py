"""Lines and letters that stay readable on any cloth: a light core in a dark casing.

Each kind of line differs by its dashes as well as by its colour, for those who do not tell the
colours apart and for prints in grey. Points are ``(N, 2)`` float64 pixels (x, y).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

__all__ = [
    "CASING",
    "CUT",
    "GARMENT",
    "MIDDLE",
    "MOTIF",
    "OTHER",
    "REFERENCE",
    "SEAM",
    "WHITE",
    "Canvas",
    "Colour",
    "Stroke",
    "draw_line",
    "draw_sample",
    "fit_words",
    "text_size",
    "write",
]

Colour = tuple[int, int, int]
Canvas = NDArray[np.uint8]

CASING: Colour = (18, 18, 22)
WHITE: Colour = (255, 255, 255)

_SAMPLE_PX = 36

_FAR_PX = 20_000.0
"""Points beyond are drawn no farther out; seen at a slant, a square can reach very far."""

_SHIFT = 4
"""Binary digits of a pixel in which OpenCV takes coordinates."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How one kind of line looks: colour, widths, dashes (on, off, ...; none for a full line)."""

    colour: Colour
    core_px: int
    casing_px: int
    dash_px: tuple[float, ...] = ()


# Light cores on dark casings; told apart by dashes first, by colour second.
CUT = Stroke(colour=(255, 232, 92), core_px=2, casing_px=5)
SEAM = Stroke(colour=(120, 210, 255), core_px=2, casing_px=5, dash_px=(12, 8))
MOTIF = Stroke(colour=(255, 170, 214), core_px=3, casing_px=6, dash_px=(1, 8))
OTHER = Stroke(colour=(235, 235, 235), core_px=3, casing_px=6, dash_px=(1, 8))
REFERENCE = Stroke(colour=(255, 190, 110), core_px=2, casing_px=5, dash_px=(14, 6, 2, 6))
GARMENT = Stroke(colour=(245, 245, 245), core_px=1, casing_px=3)
MIDDLE = Stroke(colour=(255, 255, 255), core_px=2, casing_px=6)


def draw_line(
    canvas: Canvas, points: NDArray[np.float64], stroke: Stroke, *, closed: bool = False
) -> None:
    """Draw a line, or an outline, into the canvas."""
    path = np.clip(np.vstack([points, points[:1]]) if closed else points, -_FAR_PX, _FAR_PX)
    pieces = list(_dashes(path, stroke.dash_px)) if stroke.dash_px else [path]
    fixed = [np.round(piece * (1 << _SHIFT)).astype(np.int32) for piece in pieces]
    for width, colour in ((stroke.casing_px, CASING), (stroke.core_px, stroke.colour)):
        cv2.polylines(canvas, fixed, False, colour, width, cv2.LINE_AA, _SHIFT)


def draw_sample(canvas: Canvas, where: tuple[float, float], stroke: Stroke) -> None:
    """Draw a short piece of a line to the right of a point, for a label or the key."""
    x, y = where
    draw_line(canvas, np.array([[x, y], [x + _SAMPLE_PX, y]]), stroke)


def write(
    canvas: Canvas, where: tuple[float, float], words: str, *, size_px: int, colour: Colour
) -> None:
    """Write one line with its top left corner at a point."""
    width, height = text_size(words, size_px)
    left, top = round(where[0]), round(where[1])
    box = canvas[max(top, 0) : top + height, max(left, 0) : left + width]
    if not box.size:
        return
    picture = Image.fromarray(box)
    place = (min(left, 0), min(top, 0))
    ImageDraw.Draw(picture).text(place, words, font=_font(size_px), fill=colour, anchor="la")
    box[...] = np.asarray(picture)


def text_size(words: str, size_px: int) -> tuple[int, int]:
    """Return the width and height that a line takes, with room below for descenders."""
    return round(_font(size_px).getlength(words)) + 1, round(1.3 * size_px)


@cache  # decoding the font anew for every word took half the time of a picture
def fit_words(words: str, width_px: int, size_px: int) -> list[str]:
    """Break words into lines that are no wider than a width, at spaces other than no-break ones."""
    font = _font(size_px)
    lines = [""]
    for word in words.split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and font.getlength(longer) > width_px:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def _font(size_px: int) -> ImageFont.FreeTypeFont:
    """Return the sans serif that comes with Pillow."""
    font = ImageFont.load_default(size_px)
    assert isinstance(font, ImageFont.FreeTypeFont)
    return font


def _dashes(path: NDArray[np.float64], dash_px: tuple[float, ...]) -> Iterator[NDArray[np.float64]]:
    """Cut a path into its dashes."""
    along = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    start, number = 0.0, 0
    while start < along[-1]:
        end = min(start + dash_px[number % len(dash_px)], along[-1])
        if number % 2 == 0:
            inner = path[(along > start) & (along < end)]
            ends = [[np.interp(at, along, path[:, axis]) for axis in (0, 1)] for at in (start, end)]
            yield np.vstack([ends[0], inner, ends[1]])
        start, number = end, number + 1

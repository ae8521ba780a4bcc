"""A column of drawn text, samples and pictures, filled from the top."""

from dataclasses import dataclass

import numpy as np

from motiffit.show.strokes import (
    CASING,
    WHITE,
    Canvas,
    Colour,
    Stroke,
    draw_sample,
    fit_words,
    text_size,
    write,
)
from motiffit.show.words import NO_BREAK, unbroken

__all__ = ["MARGIN_PX", "PAPER", "TEXT_PX", "Column"]

MARGIN_PX = 18
TEXT_PX = 18
PAPER: Colour = (250, 249, 246)

_INK: Colour = (24, 24, 28)
_TALLEST_PX = 4000


@dataclass(slots=True, kw_only=True)
class Column:
    """A column of paper that fills from the top.

    Attributes
    ----------
    canvas
        ``(h, w, 3)`` uint8 RGB, taller than will be needed.
    bottom
        Row below what has been written.
    """

    canvas: Canvas
    bottom: int = 0

    @classmethod
    def of_width(cls, width_px: int) -> "Column":
        """Begin an empty column."""
        return cls(canvas=np.full((_TALLEST_PX, width_px, 3), PAPER, dtype=np.uint8))

    @property
    def inner_px(self) -> int:
        """Width between the margins."""
        return int(self.canvas.shape[1]) - 2 * MARGIN_PX

    def filled(self) -> Canvas:
        """Return what has been written, with a margin below; no row when nothing was."""
        return self.canvas[: self.bottom + MARGIN_PX if self.bottom else 0]

    def banner(self, words: str, colour: Colour) -> None:
        """Write the outcome, white on its colour."""
        self.canvas[:64] = colour
        write(self.canvas, (MARGIN_PX, 16), words, size_px=28, colour=WHITE)
        self.bottom = 76

    def line(self, words: str, *, size_px: int) -> None:
        """Write one line."""
        write(self.canvas, (MARGIN_PX, self.bottom), words, size_px=size_px, colour=_INK)
        self.bottom += text_size(words, size_px)[1]

    def paragraph(self, words: str) -> None:
        """Write wrapped lines."""
        for words_of_line in fit_words(unbroken(words), self.inner_px, TEXT_PX):
            self.line(words_of_line.replace(NO_BREAK, " "), size_px=TEXT_PX)

    def picture(self, picture: Canvas) -> None:
        """Place a picture."""
        top = self.bottom + 8
        height, width = picture.shape[:2]
        self.canvas[top : top + height, MARGIN_PX : MARGIN_PX + width] = picture
        self.bottom = top + height + 4

    def key(self, stroke: Stroke, words: str) -> None:
        """Explain a line by a sample on a dark plate."""
        top, left = self.bottom, MARGIN_PX
        self.canvas[top + 1 : top + 25, left : left + 52] = CASING
        draw_sample(self.canvas, (left + 8, top + 13), stroke)
        write(self.canvas, (left + 62, top + 3), words, size_px=TEXT_PX, colour=_INK)
        self.bottom += 29

    def gap(self, height_px: int) -> None:
        """Leave room."""
        self.bottom += height_px

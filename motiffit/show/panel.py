"""The panel beside the photo: outcome, the square as cut, key, clearances, messages."""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.record import Outcome, Sizing, Window
from motiffit.show.strokes import (
    CASING,
    CUT,
    GARMENT,
    MOTIF,
    OTHER,
    REFERENCE,
    SEAM,
    WHITE,
    Canvas,
    Colour,
    Stroke,
    draw_line,
    draw_sample,
    text_size,
    write,
)
from motiffit.show.view import View
from motiffit.show.words import (
    clearance_words,
    is_cutting,
    motif_words,
    outcome_words,
    wrap_words,
)
from motiffit.units import format_length

__all__ = ["PANEL_PX", "draw_panel"]

PANEL_PX = 420
"""Width of the panel."""

_MARGIN_PX = 18
_TEXT_PX = 18
_COLUMNS = 44
_TALLEST_PX = 4000

_PAPER: Colour = (250, 249, 246)
_INK: Colour = (24, 24, 28)
_OUTSIDE: Colour = (128, 128, 128)
_BANNER: dict[Outcome, Colour] = {
    "sized": (0, 92, 75),
    "check": (140, 74, 0),
    "no-motif": (60, 70, 96),
    "refused": (135, 22, 36),
}


def draw_panel(
    picture: NDArray[np.uint8], view: View, record: Sizing, *, least_height: int
) -> Canvas:
    """Draw the panel, as tall as its text needs.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB, the decoded photo, for the square as cut.
    view
        Its scales.
    record
        What was found.
    least_height
        Pixels to fill at least.
    """
    panel = _Panel(canvas=np.full((_TALLEST_PX, PANEL_PX, 3), _PAPER, dtype=np.uint8))
    cutting = record.window is not None and is_cutting(record.window)
    panel.banner(outcome_words(record), _BANNER["refused" if cutting else record.outcome])
    if record.window is not None:
        _write_sizes(panel, record, record.window)
        panel.square(_cut_square(picture, view, record, record.window))
        panel.line("The square as cut; inside the dashes stays in sight.", size_px=15)
    _write_key(panel, record)
    for message in record.messages:
        panel.gap(10)
        panel.paragraph(message.text)
    return panel.canvas[: max(panel.bottom + _MARGIN_PX, least_height)]


def _write_sizes(panel: "_Panel", record: Sizing, window: Window) -> None:
    """Write both sizes, and what they are when they are not simply the proposal."""
    if is_cutting(window) and record.settings.place is None:
        panel.line("Too small, though the largest of the set:", size_px=_TEXT_PX)
    elif record.outcome == "no-motif":
        panel.line("The largest that the cloth holds:", size_px=_TEXT_PX)
    panel.line(f"Finished {window.finished}", size_px=38)
    panel.line(f"Cut {window.cut}", size_px=26)


def _write_key(panel: "_Panel", record: Sizing) -> None:
    """Say what each line means, and how far the motif keeps from the seam line."""
    units, window = record.settings.units, record.window
    panel.gap(8)
    if window is not None:
        panel.key(CUT, f"cut line, {window.cut}")
        panel.key(SEAM, f"seam line, {window.finished}")
    if record.motifs:
        panel.key(MOTIF, f"motif, {motif_words(record.motifs[0], units, brief=True)}")
    if len(record.motifs) > 1:
        panel.key(OTHER, "other motifs, by number")
    if record.reference is not None:
        panel.key(REFERENCE, f"reference, {format_length(record.reference.side_mm, units)}")
    if record.garment is not None:
        panel.key(GARMENT, "outline of the garment")
    if window is not None and window.clearance_mm is not None:
        panel.gap(8)
        panel.paragraph(f"Motif to seam line: {clearance_words(window.clearance_mm, units)}")


def _cut_square(picture: NDArray[np.uint8], view: View, record: Sizing, window: Window) -> Canvas:
    """Return the cut square turned upright, with the seam line and the motif's box."""
    side = PANEL_PX - 2 * _MARGIN_PX
    fine = 2 * side  # drawn twice as large first, so that shrinking smooths it
    cut = view.to_decoded(window.cut_corners_px).astype(np.float32)
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32) * fine - 0.5
    to_fine = cv2.getPerspectiveTransform(cut, square)
    upright = cv2.warpPerspective(picture, to_fine, (fine, fine), borderValue=_OUTSIDE)
    canvas = np.array(cv2.resize(upright, (side, side), interpolation=cv2.INTER_AREA), np.uint8)
    halved = np.array([[0.5, 0.0, -0.25], [0.0, 0.5, -0.25], [0.0, 0.0, 1.0]])
    to_canvas = halved @ to_fine
    if record.motifs:
        motif = view.to_decoded(record.motifs[0].corners_px)
        draw_line(canvas, _through(to_canvas, motif), MOTIF, closed=True)
    seam = view.to_decoded(window.seam_corners_px)
    draw_line(canvas, _through(to_canvas, seam), SEAM, closed=True)
    return canvas


def _through(homography: NDArray[Any], points: NDArray[np.float64]) -> NDArray[np.float64]:
    """Map points through a homography."""
    mapped = cv2.perspectiveTransform(points[None], homography)[0]
    return np.asarray(mapped, dtype=np.float64)


@dataclass(slots=True, kw_only=True)
class _Panel:
    """A column that fills from the top."""

    canvas: Canvas
    bottom: int = 0

    def banner(self, words: str, colour: Colour) -> None:
        """Write the outcome, white on its colour."""
        self.canvas[:64] = colour
        write(self.canvas, (_MARGIN_PX, 16), words, size_px=28, colour=WHITE)
        self.bottom = 76

    def line(self, words: str, *, size_px: int) -> None:
        """Write one line."""
        write(self.canvas, (_MARGIN_PX, self.bottom), words, size_px=size_px, colour=_INK)
        self.bottom += text_size(words, size_px)[1]

    def paragraph(self, words: str) -> None:
        """Write wrapped lines."""
        for words_of_line in wrap_words(words, _COLUMNS):
            self.line(words_of_line, size_px=_TEXT_PX)

    def square(self, picture: Canvas) -> None:
        """Place a picture."""
        top = self.bottom + 8
        height, width = picture.shape[:2]
        self.canvas[top : top + height, _MARGIN_PX : _MARGIN_PX + width] = picture
        self.bottom = top + height + 4

    def key(self, stroke: Stroke, words: str) -> None:
        """Explain a line by a sample on a dark plate."""
        top, left = self.bottom, _MARGIN_PX
        self.canvas[top + 1 : top + 25, left : left + 52] = CASING
        draw_sample(self.canvas, (left + 8, top + 13), stroke)
        write(self.canvas, (left + 62, top + 3), words, size_px=_TEXT_PX, colour=_INK)
        self.bottom += 29

    def gap(self, height_px: int) -> None:
        """Leave room."""
        self.bottom += height_px

"""The panel beside the photo: outcome, the square as cut, key, clearances, messages."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.record import Outcome, Sizing, Window
from motiffit.show.column import MARGIN_PX, TEXT_PX, Column
from motiffit.show.strokes import (
    CUT,
    GARMENT,
    MOTIF,
    OTHER,
    REFERENCE,
    SEAM,
    Canvas,
    Colour,
    draw_line,
)
from motiffit.show.view import View
from motiffit.show.words import (
    clearance_words,
    motif_words,
    outcome_words,
    reference_words,
)

__all__ = ["PANEL_PX", "draw_messages", "draw_panel"]

PANEL_PX = 420
"""Width of the panel."""

_OUTSIDE: Colour = (128, 128, 128)
_BANNER: dict[Outcome, Colour] = {
    "sized": (0, 92, 75),
    "check": (140, 74, 0),
    "no-motif": (60, 70, 96),
    "refused": (135, 22, 36),
}


def draw_panel(picture: NDArray[np.uint8], view: View, record: Sizing) -> Canvas:
    """Draw the panel, as tall as its content.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB, the decoded photo, for the square as cut.
    view
        Its scales.
    record
        What was found.
    """
    panel = Column.of_width(PANEL_PX)
    panel.banner(
        outcome_words(record), _BANNER["refused" if record.is_too_small else record.outcome]
    )
    if record.window is not None:
        _write_sizes(panel, record, record.window)
        panel.picture(_cut_square(picture, view, record, record.window))
        panel.line("The square as cut; inside the dashes stays in sight.", size_px=15)
    _write_key(panel, record)
    return panel.filled()


def draw_messages(record: Sizing, *, width_px: int) -> Canvas:
    """Write the messages below one another, as tall as they need; no row when there are none."""
    column = Column.of_width(width_px)
    for message in record.messages:
        column.gap(10)
        column.paragraph(message.picture_text)
    return column.filled()


def _write_sizes(panel: Column, record: Sizing, window: Window) -> None:
    """Write both sizes, and what they are when they are not simply the proposal."""
    if record.is_too_small and record.settings.place is None:
        panel.line("Too small, though the largest of the set:", size_px=TEXT_PX)
    elif record.outcome == "no-motif":
        panel.line("The largest that the cloth holds:", size_px=TEXT_PX)
    panel.line(f"Finished {window.finished}", size_px=38)
    panel.line(f"Cut {window.cut}", size_px=26)


def _write_key(panel: Column, record: Sizing) -> None:
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
        label, words = reference_words(record)
        panel.key(REFERENCE, f"{label.lower()}, {words}")
    if record.garment is not None:
        panel.key(GARMENT, "outline of the garment")
    if window is not None and window.clearance_mm is not None:
        panel.gap(8)
        panel.paragraph(f"Motif to seam line: {clearance_words(window.clearance_mm, units)}")


def _cut_square(picture: NDArray[np.uint8], view: View, record: Sizing, window: Window) -> Canvas:
    """Return the cut square turned upright, with the seam line and the motif's box."""
    side = PANEL_PX - 2 * MARGIN_PX
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

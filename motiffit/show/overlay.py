"""The picture that goes with a record: the window on the garment, and the square as it will be cut.

The photo lies on the left with cut line, seam line and motif drawn in; on the right a panel holds
the outcome, the square turned upright and the key. What needs an eye stands where there is room.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.record import Sizing, Window
from motiffit.show.column import PAPER
from motiffit.show.panel import PANEL_PX, draw_messages, draw_panel
from motiffit.show.strokes import (
    CASING,
    CUT,
    GARMENT,
    MIDDLE,
    MOTIF,
    OTHER,
    REFERENCE,
    SEAM,
    WHITE,
    Canvas,
    Stroke,
    draw_line,
    draw_sample,
    text_size,
    write,
)
from motiffit.show.view import View
from motiffit.units import format_side

__all__ = ["draw_overlay"]

_LABEL_PX = 18
_LABEL_GAP_PX = 36


def draw_overlay(
    picture: NDArray[np.uint8], full_per_px: float, record: Sizing
) -> NDArray[np.uint8]:
    """Draw a record over its photo.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB: the photo as displayed, perhaps decoded at reduced size.
    full_per_px
        Pixels of the full photo per pixel of ``picture``.
    record
        What was found in that photo.

    Returns
    -------
    ndarray
        ``(H, W, 3)`` uint8 RGB, a new picture of bare pixels: no EXIF, no file name.
    """
    view = View.of(picture, full_per_px)
    photo = view.resize(picture)
    _draw_record(photo, view, record)
    panel = draw_panel(picture, view, record)
    messages = draw_messages(record, width_px=PANEL_PX)
    if panel.shape[0] + messages.shape[0] <= photo.shape[0]:
        return _beside(photo, _below_one_another(panel, messages))
    # a broad photo leaves no room beside it, but below
    messages = draw_messages(record, width_px=max(photo.shape[1], PANEL_PX))
    return _beside(_below_one_another(photo, messages), panel)


def _below_one_another(*pictures: Canvas) -> Canvas:
    """Stack pictures, the narrower ones filled up to the right with paper."""
    width = max(picture.shape[1] for picture in pictures)
    return np.vstack([_on_paper(picture, picture.shape[0], width) for picture in pictures])


def _beside(*pictures: Canvas) -> Canvas:
    """Put pictures side by side, the shorter ones filled up at the bottom with paper."""
    height = max(picture.shape[0] for picture in pictures)
    return np.hstack([_on_paper(picture, height, picture.shape[1]) for picture in pictures])


def _on_paper(picture: Canvas, height: int, width: int) -> Canvas:
    """Return the picture in the top left corner of a sheet of paper."""
    sheet = np.full((height, width, 3), PAPER, dtype=np.uint8)
    sheet[: picture.shape[0], : picture.shape[1]] = picture
    return sheet


def _draw_record(photo: Canvas, view: View, record: Sizing) -> None:
    """Draw everything that was found, the most important last."""
    if record.garment is not None:
        faint = photo.copy()
        draw_line(faint, view.to_drawn(record.garment.outline_px), GARMENT, closed=True)
        cv2.addWeighted(faint, 0.6, photo, 0.4, 0.0, dst=photo)
    if record.reference is not None:
        corners = view.to_drawn(record.reference.corners_px)
        draw_line(photo, corners, REFERENCE, closed=True)
        side = format_side(record.reference.side_mm, record.settings.units)
        _draw_label(photo, _below(corners), f"{record.reference.kind} {side}", REFERENCE)
    for rank, motif in enumerate(record.motifs[1:], start=2):
        corners = view.to_drawn(motif.corners_px)
        draw_line(photo, corners, OTHER, closed=True)
        _draw_label(photo, corners.mean(axis=0), str(rank), None)
    if record.motifs:
        draw_line(photo, view.to_drawn(record.motifs[0].corners_px), MOTIF, closed=True)
    if record.window is not None:
        _draw_window(photo, view, record.window)


def _draw_window(photo: Canvas, view: View, window: Window) -> None:
    """Draw seam line, cut line, marks at the middle, and both sizes in words."""
    cut = view.to_drawn(window.cut_corners_px)
    draw_line(photo, view.to_drawn(window.seam_corners_px), SEAM, closed=True)
    draw_line(photo, cut, CUT, closed=True)
    _draw_middle(photo, cut)
    _draw_label(photo, _above(cut), f"cut {window.cut}", CUT)
    _draw_label(photo, _below(cut), f"finished {window.finished}", SEAM)


def _draw_middle(photo: Canvas, corners: NDArray[np.float64]) -> None:
    """Mark the middle of each side and, with a small cross, of the square."""
    centre = corners.mean(axis=0)
    for middle in (corners + np.roll(corners, -1, axis=0)) / 2:
        outward = _unit(middle - centre)
        draw_line(photo, np.array([middle - 4 * outward, middle + 16 * outward]), CUT)
    along = _unit(corners[1] - corners[0])
    for arm in (along, np.array([-along[1], along[0]])):
        draw_line(photo, np.array([centre - 9 * arm, centre + 9 * arm]), MIDDLE)


def _unit(vector: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the vector at length 1."""
    return np.asarray(vector / max(float(np.linalg.norm(vector)), 1e-9))


def _above(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where a label above a shape is centred."""
    return np.array([corners[:, 0].mean(), corners[:, 1].min() - _LABEL_GAP_PX])


def _below(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where a label below a shape is centred."""
    return np.array([corners[:, 0].mean(), corners[:, 1].max() + _LABEL_GAP_PX])


def _draw_label(
    photo: Canvas, centre: NDArray[np.float64], words: str, stroke: Stroke | None
) -> None:
    """Write words on a dark plate, with a sample of the line that they name; kept in view."""
    width, height = text_size(words, _LABEL_PX)
    sample_px = 46 if stroke else 0
    plate = np.array([width + sample_px + 20, height + 8])
    room = np.maximum(np.array([photo.shape[1], photo.shape[0]]) - plate - 2, 2)
    left, top = np.round(np.clip(centre - plate / 2, 2, room)).astype(int)
    photo[top : top + plate[1], left : left + plate[0]] = CASING
    if stroke:
        draw_sample(photo, (left + 10, top + plate[1] / 2), stroke)
    write(photo, (left + 10 + sample_px, top + 5), words, size_px=_LABEL_PX, colour=WHITE)

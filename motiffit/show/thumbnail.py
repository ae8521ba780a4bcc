"""The small picture of a contact sheet: the garment alone, with its square drawn in."""

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.record import Point, Sizing
from motiffit.show.strokes import CUT, MOTIF, SEAM, Canvas, Stroke, draw_line

__all__ = ["THUMBNAIL_PX", "draw_thumbnail"]

THUMBNAIL_PX = 400
"""Longer side: sharp on a phone at half this width, and about 25 KB as JPEG."""

_MARGIN = 0.06  # of the crop's longer side, left free round the garment
_LEAST_CROP = 0.25  # of the photo's shorter side: closer shows cloth but no garment


def draw_thumbnail(
    picture: NDArray[np.uint8], full_per_px: float, record: Sizing
) -> NDArray[np.uint8]:
    """Draw a record over the part of its photo that matters.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB: the photo as displayed, perhaps decoded at reduced size.
    full_per_px
        Pixels of the full photo per pixel of ``picture``.
    record
        What was found in that photo; without garment and window the whole photo is shown.

    Returns
    -------
    ndarray
        ``(h, w, 3)`` uint8 RGB, longer side `THUMBNAIL_PX` or less; bare pixels.
    """
    left, top, right, bottom = _crop(picture.shape[:2], full_per_px, record)
    part = picture[top:bottom, left:right]
    scale = min(THUMBNAIL_PX / max(part.shape[:2]), 1.0)
    size = (max(round(part.shape[1] * scale), 1), max(round(part.shape[0] * scale), 1))
    small: Canvas = np.array(cv2.resize(part, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

    def to_small(points_px: tuple[Point, ...]) -> NDArray[np.float64]:
        decoded = (np.asarray(points_px, dtype=np.float64) + 0.5) / full_per_px
        return np.asarray((decoded - (left, top)) * scale - 0.5)

    if record.motifs:
        draw_line(small, to_small(record.motifs[0].corners_px), _thin(MOTIF), closed=True)
    if record.window is not None:
        draw_line(small, to_small(record.window.seam_corners_px), _thin(SEAM), closed=True)
        draw_line(small, to_small(record.window.cut_corners_px), _thin(CUT), closed=True)
    return small


def _thin(stroke: Stroke) -> Stroke:
    """Return a line for a picture a third as large."""
    dashes = tuple(max(length / 2, 1.0) for length in stroke.dash_px)
    return replace(stroke, core_px=1, casing_px=3, dash_px=dashes)


def _crop(shape: tuple[int, ...], full_per_px: float, record: Sizing) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom of what to show, in pixels of the picture."""
    height, width = shape
    points = [
        *(record.garment.outline_px if record.garment else ()),
        *(record.window.cut_corners_px if record.window else ()),
        *(record.motifs[0].corners_px if record.motifs else ()),
    ]
    if not points:
        return 0, 0, width, height
    decoded = (np.asarray(points, dtype=np.float64) + 0.5) / full_per_px
    low = np.clip(decoded.min(axis=0), 0, (width, height))
    high = np.clip(decoded.max(axis=0), 0, (width, height))
    least = _LEAST_CROP * min(width, height)
    half = np.maximum((high - low) / 2, least / 2) + _MARGIN * max((high - low).max(), least)
    middle = (low + high) / 2
    left, top = np.floor(np.maximum(middle - half, 0)).astype(int)
    right, bottom = np.ceil(np.minimum(middle + half, (width, height))).astype(int)
    return int(left), int(top), int(right), int(bottom)

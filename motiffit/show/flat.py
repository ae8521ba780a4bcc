"""The garment as it lies, at true scale and upright, without anything drawn in."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.show.picture_file import encode_picture

__all__ = ["FlatPicture", "draw_flat"]

Floats = NDArray[np.float64]

_MARGIN_MM = 40.0
"""Cloth and table shown round the garment, so that a square reaching beyond it is still seen."""

_LONGEST_PX = 1600  # sharp on a large screen, about 300 KB
_TABLE = (214, 212, 208)  # where the photo shows nothing


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatPicture:
    """A picture of the cloth in the garment's upright frame.

    That frame is the record's mm frame turned about its origin until the garment is upright.

    Attributes
    ----------
    jpeg
        The picture's file.
    left_mm, top_mm, width_mm, height_mm
        The rectangle of the upright frame that it shows, to the pixels' outer edges.
    """

    jpeg: bytes
    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float


def draw_flat(
    picture: NDArray[np.uint8],
    *,
    mm_per_px: float,
    origin_mm: Floats,
    upright_deg: float,
    outline_mm: Floats,
) -> FlatPicture:
    """Turn a flat view upright and keep the part that holds the garment.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB: pixel (column, row) shows ``origin_mm + mm_per_px (column, row)``.
    mm_per_px, origin_mm
        Its scale, and where the centre of its first pixel lies in the mm frame.
    upright_deg
        Turn of the garment's up from the picture's, clockwise.
    outline_mm
        ``(N, 2)`` the garment's outline; empty to show the whole picture.
    """
    turn = np.deg2rad(-upright_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    low, high = _extent(picture, mm_per_px, origin_mm, rotation, outline_mm)
    scale = max(mm_per_px, float((high - low).max()) / _LONGEST_PX)
    columns, rows = (int(n) for n in np.ceil((high - low) / scale))
    # pixel of the new picture -> upright mm -> mm -> pixel of the flat view
    forward = np.zeros((2, 3))
    forward[:, :2] = rotation.T * scale / mm_per_px
    forward[:, 2] = (rotation.T @ (low + scale / 2) - origin_mm) / mm_per_px
    source = picture
    if scale > 1.5 * mm_per_px:  # average before thinning out, or fine prints turn to moire
        source = np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.4 * scale / mm_per_px), np.uint8)
    flat = cv2.warpAffine(
        source,
        forward,
        (columns, rows),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderValue=_TABLE,
    )
    return FlatPicture(
        jpeg=encode_picture(np.asarray(flat, np.uint8), ".jpg", quality=85),
        left_mm=float(low[0]),
        top_mm=float(low[1]),
        width_mm=columns * scale,
        height_mm=rows * scale,
    )


def _extent(
    picture: NDArray[np.uint8],
    mm_per_px: float,
    origin_mm: Floats,
    rotation: Floats,
    outline_mm: Floats,
) -> tuple[Floats, Floats]:
    """Return the least and greatest (x, y) to show, in the upright frame."""
    height, width = picture.shape[:2]
    corners = np.array([[0, 0], [width, 0], [width, height], [0, height]]) - 0.5
    whole = (origin_mm + mm_per_px * corners) @ rotation.T
    low, high = whole.min(axis=0), whole.max(axis=0)
    if len(outline_mm) < 3:
        return low, high
    garment = outline_mm @ rotation.T
    return (
        np.maximum(garment.min(axis=0) - _MARGIN_MM, low),
        np.minimum(garment.max(axis=0) + _MARGIN_MM, high),
    )

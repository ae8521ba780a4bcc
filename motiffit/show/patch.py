"""The square of cloth that a window proposes, cut out of its photo and laid flat."""

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.record import Window

__all__ = ["cloth_colour", "cut_patch"]

Picture = NDArray[np.uint8]

_BLUR_PER_STEP = 0.4  # as wide a blur as a pixel of the patch, so that fine prints do not flicker


def cut_patch(picture: Picture, full_per_px: float, window: Window, *, px_per_mm: float) -> Picture:
    """Cut the finished square of a window out of its photo.

    Parameters
    ----------
    picture
        ``(h, w, 3)`` uint8 RGB: the photo as displayed, perhaps decoded at reduced size.
    full_per_px
        Pixels of the full photo per pixel of ``picture``.
    window
        Its seam corners tell where the square lies.
    px_per_mm
        Scale of the patch.

    Returns
    -------
    ndarray
        ``(n, n, 3)`` uint8 RGB, the garment upright.
    """
    side = max(1, round(window.finished_mm * px_per_mm))
    seam = (np.asarray(window.seam_corners_px, dtype=np.float64) + 0.5) / full_per_px - 0.5
    corners = np.array([[0, 0], [side, 0], [side, side], [0, side]], dtype=np.float64) - 0.5
    onto_photo = cv2.getPerspectiveTransform(corners.astype(np.float32), seam.astype(np.float32))
    step = float(np.linalg.norm(seam - np.roll(seam, 1, axis=0), axis=1).max()) / side
    source = picture
    if step > 1.5:
        source = np.asarray(cv2.GaussianBlur(picture, (0, 0), _BLUR_PER_STEP * step), np.uint8)
    flat = cv2.warpPerspective(
        source,
        onto_photo,
        (side, side),
        flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
        borderMode=cv2.BORDER_REPLICATE,
    )
    return np.asarray(flat, dtype=np.uint8)


def cloth_colour(patch: Picture) -> str:
    """Return the colour of the cloth that a patch shows, as ``#rrggbb``: its middle values."""
    red, green, blue = (round(value) for value in np.median(patch.reshape(-1, 3), axis=0))
    return f"#{red:02x}{green:02x}{blue:02x}"

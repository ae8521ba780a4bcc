"""Which way is up on a garment, from the shape of its mask: garments are near mirror-symmetric."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Upright", "find_upright"]

_GRID = 96
"""Cells along the side of the square in which masks are compared with their mirror image."""

_COARSE_DEG = np.arange(-90.0, 90.0, 3.0)
_FINE_DEG = np.arange(-3.0, 3.01, 0.5)

_SIDEWAYS_COST = 0.06
"""Symmetry (share of overlap) that an axis must gain to be believed although it lies sideways."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Upright:
    """The garment's own axis.

    Attributes
    ----------
    upright_deg
        Turn of the garment's up from the picture's up, clockwise, in (-180, 180].
    symmetry
        Share of the mask that meets its own mirror image, 0..1.
    """

    upright_deg: float
    symmetry: float


def find_upright(mask: NDArray[np.bool_]) -> Upright:
    """Find the garment's up from its mask.

    The axis is the line in which the mask mirrors best; photos are mostly taken the right way up,
    so an axis far from the picture's own must be clearly better.

    Parameters
    ----------
    mask : (H, W) bool
        True on the garment; at least one pixel.
    """
    cells = _to_grid(mask)
    coarse = np.array([_mirror_share(cells, deg) for deg in _COARSE_DEG])
    best = _COARSE_DEG[np.argmax(coarse - _SIDEWAYS_COST * np.abs(_COARSE_DEG) / 90)]
    fine = best + _FINE_DEG
    shares = np.array([_mirror_share(cells, deg) for deg in fine])
    return Upright(upright_deg=float(fine[np.argmax(shares)]), symmetry=float(shares.max()))


def _to_grid(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Shrink the mask into the grid, its centre of mass in the middle."""
    rows, cols = np.nonzero(mask)
    middle = np.array([cols.mean(), rows.mean()])
    reach = np.hypot(cols - middle[0], rows - middle[1]).max() + 1
    scale = (_GRID / 2 - 1) / reach
    shrunk = (
        cv2.resize(mask.astype(np.float32), None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        if scale < 1
        else mask.astype(np.float32)
    )
    factor = np.array([shrunk.shape[1] / mask.shape[1], shrunk.shape[0] / mask.shape[0]])
    shift = (_GRID - 1) / 2 - ((middle + 0.5) * factor - 0.5)
    matrix = np.array([[1, 0, shift[0]], [0, 1, shift[1]]])
    return np.asarray(cv2.warpAffine(shrunk, matrix, (_GRID, _GRID)), np.float32)


def _mirror_share(cells: NDArray[np.float32], upright_deg: float) -> float:
    """Return the overlap of mask and mirror image, in the best line of this direction."""
    middle = ((_GRID - 1) / 2, (_GRID - 1) / 2)
    turn = cv2.getRotationMatrix2D(middle, upright_deg, 1.0)
    upright = cv2.warpAffine(cells, turn, (_GRID, _GRID))
    # every column of the sum is the overlap about one mirror line: rows convolved with themselves
    spectrum = np.fft.rfft(upright, 2 * _GRID, axis=1)
    overlap = np.fft.irfft((spectrum**2).sum(axis=0), 2 * _GRID)
    return float(overlap.max() / max(float((upright**2).sum()), 1e-9))

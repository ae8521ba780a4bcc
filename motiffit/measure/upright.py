"""Which way is up on a garment, from the shape of its mask: garments mirror in their own axis."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Upright", "find_upright"]

_GRID = 96
"""Cells along the side of the square in which a mask is compared with its mirror image."""

_COARSE_DEG = np.arange(-90.0, 90.0, 3.0)
_FINE_DEG = np.arange(-3.0, 3.01, 0.5)

_TURNED_COST = 0.055
"""Share of overlap by which an axis turned 45 degrees or more must mirror better than one along
the photo: 2 of 230 real garments have a diagonal that mirrors better still."""

_CROOKED_COST = 0.2
"""Doubt of small turns, per degree and per share that finds no mirror image: a garment that was
laid carelessly shows its axis badly, and people hold the camera straight."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Upright:
    """The garment's own axis.

    Attributes
    ----------
    upright_deg
        Turn of the garment's axis from the picture's up, clockwise, in [-93, 93]. Of its two ends
        the one nearer to the picture's up is taken for the head: the mask hardly tells, and a
        square round the motif is the same either way.
    symmetry
        Share of the mask that meets its own mirror image, 0..1.
    """

    upright_deg: float
    symmetry: float


def find_upright(mask: NDArray[np.bool_]) -> Upright:
    """Find the garment's up from its mask.

    The axis is the line in which the mask mirrors best, with some preference for the picture's own.

    Parameters
    ----------
    mask : (H, W) bool
        True on the garment; at least one pixel.
    """
    cells = _to_grid(mask)
    coarse = np.array([_mirror_share(cells, deg) for deg in _COARSE_DEG])
    doubt = _CROOKED_COST * (1 - coarse.max())
    best = _COARSE_DEG[np.argmax(coarse - _cost(_COARSE_DEG, doubt))]
    turns = best + _FINE_DEG
    fine = np.array([_mirror_share(cells, deg) for deg in turns])
    chosen = int(np.argmax(fine - _cost(turns, doubt)))
    return Upright(upright_deg=float(turns[chosen]), symmetry=float(fine[chosen]))


def _cost(turn_deg: NDArray[np.float64], doubt: float) -> NDArray[np.float64]:
    """Return the overlap that an axis must gain over one along the photo."""
    turn = np.abs(turn_deg)
    return np.asarray(_TURNED_COST * np.minimum(turn / 45, 1) + doubt * np.minimum(turn, 15))


def _to_grid(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Shrink or enlarge the mask into the grid, its centre of mass in the middle."""
    rows, cols = np.nonzero(mask)
    middle = np.array([cols.mean(), rows.mean()])
    reach = float(np.hypot(cols - middle[0], rows - middle[1]).max()) + 1
    scale = (_GRID / 2 - 1) / reach
    # softened first, so that shrinking loses no share of a cell
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), max(0.3, 0.4 / scale))
    shift = (_GRID - 1) / 2 - scale * middle
    matrix = np.array([[scale, 0, shift[0]], [0, scale, shift[1]]])
    return np.asarray(cv2.warpAffine(soft, matrix, (_GRID, _GRID)), np.float32)


def _mirror_share(cells: NDArray[np.float32], turn_deg: float) -> float:
    """Return the overlap of mask and mirror image, in the best line of this direction."""
    middle = ((_GRID - 1) / 2, (_GRID - 1) / 2)
    turn = cv2.getRotationMatrix2D(middle, turn_deg, 1.0)
    upright = cv2.warpAffine(cells, turn, (_GRID, _GRID))
    # rows convolved with themselves: each column of the sum is the overlap about one mirror line
    spectrum = np.fft.rfft(upright, 2 * _GRID, axis=1)
    overlap = np.fft.irfft((spectrum**2).sum(axis=0), 2 * _GRID)
    return float(overlap.max() / max(float((upright**2).sum()), 1e-9))

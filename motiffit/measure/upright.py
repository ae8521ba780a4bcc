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

_UPRIGHT_PRIOR = 3.2
"""Log odds that a photo is taken the right way up: about one in 25 is not."""

_SLICES = 12
"""Bands across the garment in which its shape is described."""


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

    The axis is the line in which the mask mirrors best, with some preference for the picture's own
    axis; the shape tells which end is up where it speaks clearly.

    Parameters
    ----------
    mask : (H, W) bool
        True on the garment; at least one pixel.
    """
    cells = _to_grid(mask)
    coarse = np.array([_mirror(cells, deg)[0] for deg in _COARSE_DEG])
    doubt = _CROOKED_COST * (1 - coarse.max())
    best = _COARSE_DEG[np.argmax(coarse - _cost(_COARSE_DEG, doubt))]
    turns = best + _FINE_DEG
    fine = np.array([_mirror(cells, deg)[0] for deg in turns])
    chosen = int(np.argmax(fine - _cost(turns, doubt)))
    axis_deg = float(turns[chosen])
    towards_up = _UPRIGHT_PRIOR * np.cos(np.deg2rad(axis_deg)) + _head_odds(cells, axis_deg)
    if towards_up < 0:
        axis_deg += 180.0 if axis_deg <= 0 else -180.0
    return Upright(upright_deg=axis_deg, symmetry=float(fine[chosen]))


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


def _mirror(cells: NDArray[np.float32], turn_deg: float) -> tuple[float, float]:
    """Return the overlap of mask and mirror image, and the column they mirror in, at one turn."""
    upright = _turned(cells, turn_deg)
    # rows convolved with themselves: each column of the sum is the overlap about one mirror line
    spectrum = np.fft.rfft(upright, 2 * _GRID, axis=1)
    overlap = np.fft.irfft((spectrum**2).sum(axis=0), 2 * _GRID)
    best = int(overlap.argmax())
    return float(overlap[best] / max(float((upright**2).sum()), 1e-9)), best / 2


def _turned(cells: NDArray[np.float32], turn_deg: float) -> NDArray[np.float32]:
    """Turn the cells back by the garment's turn."""
    middle = ((_GRID - 1) / 2, (_GRID - 1) / 2)
    matrix = cv2.getRotationMatrix2D(middle, turn_deg, 1.0)
    return np.asarray(cv2.warpAffine(cells, matrix, (_GRID, _GRID)), np.float32)


_WIDTH_SAYS = np.array([-3.6, -1.6, 0.2, 0.4, -0.1, -0.1])
_MIDDLE_SAYS = np.array([-0.4, 1.1, 0.8, 0.7, 0.8, 0.2])
"""What the bands say of being nearer the head than the opposite band, from the end inwards: how
wide they are, in lengths of the garment, and how much of their middle is cloth (a crotch has none).
Fitted to 193 real garments, on which it alone is right in 80 %, and in 96 % where above 1."""


def _head_odds(cells: NDArray[np.float32], turn_deg: float) -> float:
    """Return how much the shape speaks for the head being where the turn says (log odds)."""
    upright = _turned(cells, turn_deg)
    rows = np.flatnonzero(upright.sum(axis=1) > 1.5)
    if len(rows) < _SLICES:
        return 0.0
    body = upright[rows[0] : rows[-1] + 1]
    axis = round(_mirror(cells, turn_deg)[1])
    middle = body[:, max(0, axis - 2) : axis + 2].mean(axis=1)
    bands = np.stack([body.sum(axis=1) / len(body), middle], axis=1).astype(np.float32)
    bands = np.asarray(cv2.resize(bands, (2, _SLICES), interpolation=cv2.INTER_AREA))
    lead = (bands - bands[::-1])[: _SLICES // 2]
    return float(lead[:, 0] @ _WIDTH_SAYS + lead[:, 1] @ _MIDDLE_SAYS)

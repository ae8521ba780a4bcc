"""The garment as the net sees it: two glances, its mask and the turn of its upright axis.

The first glance takes in the whole photo, the second the garment alone, turned upright; where it
turns out not to be upright there, it is turned and looked at again. The turn is then sharpened by
the garment's mirror symmetry, which the net's direction is too blunt for.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.network import Glance, glance_at
from motiffit.measure.view import View, axes_of

__all__ = ["GarmentSeen", "cloth_odds", "mirror_turn", "mirrored_share", "see_garment"]

_WHOLE_PX, _GARMENT_PX = 256, 320
"""Pixels of the two views; the net was trained at 320."""

_ROOM = 1.1
"""Side of the second view against the garment's longer side."""

_BEYOND = -4.0
"""Log odds of garment outside the second view, which was chosen to hold all of it."""

_ASKEW_DEG, _MOST_TURNS = 12.0, 2
"""A garment that seems turned by more than this in the second view is turned upright and looked at
again, at most so often. Straight photos hardly ever come to it; of those turned by a quarter, which
the first glance often takes for straight, one in six has a better box for it (docs/finder.md)."""

_MASK_PX = 240
"""Side of the enlarged mask; its border is then good to a third of a cell of the net's grid."""

_GRID = 96
"""Cells along the side of the square in which a mask is compared with its mirror image."""

_SEARCH_DEG = 20.0
"""How far the net's direction may be off: on 14 renders and 700 photos it never was by more."""

_DRIFT_COST = 0.002
"""Share of mirrored overlap that a degree away from the net's direction must gain."""

_SYMMETRIC = 0.85
"""Least share of the mask that must mirror for symmetry to be believed at all."""

_CLEAR_SYMMETRY = 0.97
_SMALL_CLEAR_DEG, _SMALL_DEG = 4.0, 8.0
"""Turns smaller than this count as none, where the symmetry is clear and where it is not: least in
mean error over 573 real garments. People square a garment to the photo, and a
sleeve laid askew says little. A motif boxed straight although it is turned by so little comes out
too large, never too small."""


@dataclass(frozen=True, slots=True, kw_only=True)
class GarmentSeen:
    """What the net makes of the garment.

    Attributes
    ----------
    glance
        The last glance, at the garment alone.
    mask : (_MASK_PX, _MASK_PX) bool
        The garment in that glance's view.
    turn_deg
        Turn of the garment's up from the mm frame's up, clockwise.
    symmetry
        Share of the mask that mirrors in its axis, 0..1.
    """

    glance: Glance
    mask: NDArray[np.bool_]
    turn_deg: float
    symmetry: float


def see_garment(flat: FlatView) -> GarmentSeen | None:
    """Look at the photo, then at the garment; None where there is none."""
    first = glance_at(flat, _whole(flat))
    rough = _largest(first)
    if rough is None:
        return None
    second = glance_at(flat, _around(_rim(rough, first.view), first.turn_deg))
    mask = _largest(second)
    for _ in range(_MOST_TURNS):
        if mask is None or abs(second.turn_deg) <= _ASKEW_DEG:
            break
        upright_deg = second.view.turn_deg + second.turn_deg
        second = glance_at(flat, _around(_rim(mask, second.view), upright_deg))
        mask = _largest(second)
    if mask is None:
        return None
    turn, symmetry = mirror_turn(mask, second.turn_deg)
    return GarmentSeen(
        glance=second,
        mask=mask,
        turn_deg=_settled(second.view.turn_deg + turn, symmetry),
        symmetry=symmetry,
    )


def cloth_odds(seen: GarmentSeen, points_mm: NDArray[np.float64]) -> NDArray[np.float32]:
    """Return the net's log odds (h, w) that points (h, w, 2) of the plane are garment."""
    cloth = seen.glance.cloth
    view = seen.glance.view
    places = view.to_px(points_mm) * cloth.shape[0] / view.px - 0.5
    lookup = places.astype(np.float32).reshape(points_mm.shape)
    flags = {"borderMode": cv2.BORDER_CONSTANT, "borderValue": _BEYOND}
    odds = cv2.remap(cloth, lookup, None, cv2.INTER_LINEAR, **flags)  # type: ignore[call-overload]
    return np.asarray(odds, np.float32)


def _whole(flat: FlatView) -> View:
    """Return the view of all that the photo shows."""
    height, width = flat.valid.shape
    x, y = flat.to_mm([[(width - 1) / 2, (height - 1) / 2]])[0]
    return View(
        centre_mm=(float(x), float(y)),
        side_mm=max(height, width) * flat.mm_per_px,
        turn_deg=0.0,
        px=_WHOLE_PX,
    )


def _around(rim_mm: NDArray[np.float64], turn_deg: float) -> View:
    """Return the upright view of what lies within a rim, with some room about it."""
    level = axes_of(turn_deg)
    local = rim_mm @ level
    low, high = local.min(axis=0), local.max(axis=0)
    x, y = level @ ((low + high) / 2)
    return View(
        centre_mm=(float(x), float(y)),
        side_mm=float((high - low).max()) * _ROOM,
        turn_deg=turn_deg,
        px=_GARMENT_PX,
    )


def _largest(glance: Glance) -> NDArray[np.bool_] | None:
    """Return the largest part of the garment's mask without its holes; None if there is none."""
    size = (_MASK_PX, _MASK_PX)
    found = (cv2.resize(glance.cloth, size, interpolation=cv2.INTER_LINEAR) > 0).astype(np.uint8)
    contours, _ = cv2.findContours(found, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    largest = max(contours, key=cv2.contourArea)
    if cv2.contourArea(largest) < 0.002 * _MASK_PX**2:
        return None
    found[:] = 0
    cv2.drawContours(found, [largest], -1, 1, cv2.FILLED)
    return found.astype(bool)


def _rim(mask: NDArray[np.bool_], view: View) -> NDArray[np.float64]:
    """Return points (N, 2) along a mask's outer boundary in mm."""
    contours, _ = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE
    )
    rim = max(contours, key=cv2.contourArea)[:, 0].astype(np.float64)
    return view.to_mm((rim + 0.5) * view.px / len(mask))


def mirror_turn(mask: NDArray[np.bool_], near_deg: float) -> tuple[float, float]:
    """Return the turn near the net's at which a mask mirrors best, and the share that does.

    Parameters
    ----------
    mask : (H, W) bool
        True on the garment; at least one pixel.
    near_deg
        The net's turn, returned unchanged where the mask mirrors too little to be believed.
    """
    cells = _centred(mask)
    coarse = near_deg + np.arange(-_SEARCH_DEG, _SEARCH_DEG + 1, 2.0)
    shares = np.array([_mirrored(cells, deg) for deg in coarse])
    best = coarse[np.argmax(shares - _DRIFT_COST * np.abs(coarse - near_deg))]
    fine = best + np.arange(-2.0, 2.1, 0.5)
    shares = np.array([_mirrored(cells, deg) for deg in fine])
    symmetry = float(shares.max())
    turn = float(fine[shares.argmax()]) if symmetry > _SYMMETRIC else near_deg
    return turn, symmetry


def mirrored_share(mask: NDArray[np.bool_], turn_deg: float) -> float:
    """Return the share of a mask (H, W) that mirrors at a turn."""
    return _mirrored(_centred(mask), turn_deg)


def _settled(turn_deg: float, symmetry: float) -> float:
    """Return the turn in [-180, 180), straight with the photo where it can't be told from that."""
    small = _SMALL_CLEAR_DEG if symmetry > _CLEAR_SYMMETRY else _SMALL_DEG
    off_deg = (turn_deg + 45) % 90 - 45  # from the nearest quarter turn
    settled = turn_deg - off_deg if abs(off_deg) < small else turn_deg
    return float((settled + 180) % 360 - 180)


def _centred(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Bring a mask into the grid, its centre of mass in the middle."""
    rows, cols = np.nonzero(mask)
    middle = np.array([cols.mean(), rows.mean()])
    scale = (_GRID / 2 - 1) / (float(np.hypot(cols - middle[0], rows - middle[1]).max()) + 1)
    shift = (_GRID - 1) / 2 - scale * middle
    soft = cv2.GaussianBlur(mask.astype(np.float32), (0, 0), max(0.3, 0.4 / scale))
    matrix = np.array([[scale, 0, shift[0]], [0, scale, shift[1]]])
    return np.asarray(cv2.warpAffine(soft, matrix, (_GRID, _GRID)), np.float32)


def _mirrored(cells: NDArray[np.float32], turn_deg: float) -> float:
    """Return the share of a mask that mirrors at a turn, in the best line of that direction."""
    middle = ((_GRID - 1) / 2, (_GRID - 1) / 2)
    upright = cv2.warpAffine(cells, cv2.getRotationMatrix2D(middle, turn_deg, 1.0), (_GRID, _GRID))
    # rows convolved with themselves: each column of the sum is the overlap about one mirror line
    spectrum = np.fft.rfft(upright, 2 * _GRID, axis=1)
    overlap = np.fft.irfft((spectrum**2).sum(axis=0), 2 * _GRID)
    return float(overlap.max() / max(float((upright**2).sum()), 1e-9))

"""A closed border drawn roughly, moved to where the picture itself changes."""

from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["even_points", "snap_contour", "without_loops"]

_SEARCH_MM = 7.0
"""How far the true border may lie from the rough one: not quite two cells of the coarse grid."""

_STEP_MM = 0.5
"""Spacing of the places tried."""

_SIDE_MM = 3.0
"""Cloth compared on either side of a place; much more would see prints, much less the weave."""

_STRONG = 25.0
"""Colour difference of an edge that no one overlooks."""

_SLACK = 0.6
"""Colour difference (Lab units) that outweighs leaving the rough border by a millimetre."""

_STIFFNESS = 4.0
"""Colour difference that outweighs a step of 0.5 mm between neighbours 2 mm apart."""

_MEMORY = 60
"""Points after which a path no longer shows where it began: 18 cm of border."""

_PARTS = 8
"""Parts of a contour that are solved at once."""


def even_points(contour: NDArray[np.float64], *, spacing: float) -> NDArray[np.float64]:
    """Return points at even spacing along a closed contour (N, 2)."""
    closed = np.vstack([contour, contour[:1]])
    way = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(8, round(way[-1] / spacing))
    at = np.arange(count) * way[-1] / count
    return np.column_stack([np.interp(at, way, closed[:, i]) for i in (0, 1)])


def snap_contour(
    contour: NDArray[np.float64], picture: NDArray[np.uint8], *, mm_per_px: float
) -> NDArray[np.float64]:
    """Move a closed contour across itself to the strongest change of colour nearby.

    Parameters
    ----------
    contour : (N, 2) float64
        Evenly spaced points (column, row), about 2 mm apart, clockwise as seen.
    picture : (H, W, 3) uint8
        RGB.
    mm_per_px
        Scale of the picture.

    Returns
    -------
    (N, 2) float64
        The contour moved.
    """
    outward = _normals(contour)
    change = _changes(contour, outward, picture, mm_per_px)
    places = np.arange(change.shape[1]) - change.shape[1] // 2
    # beyond some strength an edge is an edge; a stronger one nearby is no better
    peak = change.max(axis=1, keepdims=True)
    strength = change * np.minimum(1.0, _STRONG / np.maximum(peak, 1e-9))
    cost = _SLACK * np.abs(places) * _STEP_MM - strength
    chosen = _cheapest_path(cost)
    return np.asarray(contour + outward * (places[chosen] * _STEP_MM / mm_per_px)[:, None])


def without_loops(contour: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a closed contour (N, 2) without the small loops in which it crosses itself.

    Examples
    --------
    >>> tie = np.array([[0.0, 0], [9, 0], [9, 9], [4, 9], [4, 11], [6, 11], [6, 8], [0, 8]])
    >>> len(without_loops(tie))
    5
    """
    while len(crossings := _crossings(contour)):
        first, second = crossings[0]
        inner = np.arange(len(contour))
        within = (inner > first) & (inner <= second)
        contour = contour[~within if within.sum() * 2 <= len(contour) else within]
    return contour


def _crossings(contour: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return pairs (M, 2) of the sides that cross, by the numbers of their first points."""
    start, end = contour, np.roll(contour, -1, axis=0)
    along = end - start

    def turn(points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Tell on which side (row) of each side's line the points (column) lie."""
        off = points[None] - start[:, None]
        return np.asarray(along[:, None, 0] * off[..., 1] - along[:, None, 1] * off[..., 0])

    parted = turn(start) * turn(end) < 0
    return np.argwhere(np.triu(parted & parted.T))


def _normals(contour: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return unit vectors (N, 2) out of a clockwise contour, a little smoothed."""
    along = sum(np.roll(contour, -k, axis=0) - np.roll(contour, k, axis=0) for k in (1, 2, 3))
    along = np.asarray(along) / np.maximum(np.hypot(*np.asarray(along).T), 1e-9)[:, None]
    return np.column_stack([along[:, 1], -along[:, 0]])


def _changes(
    contour: NDArray[np.float64],
    outward: NDArray[np.float64],
    picture: NDArray[np.uint8],
    mm_per_px: float,
) -> NDArray[np.float64]:
    """Return the colour difference (N, places) between both sides of each place."""
    half = round(_SEARCH_MM / _STEP_MM)
    side = round(_SIDE_MM / _STEP_MM)
    reach = np.arange(-half - side, half + side) + 0.5
    spots = contour[:, None] + outward[:, None] * (reach * _STEP_MM / mm_per_px)[None, :, None]
    x, y = np.moveaxis(spots.astype(np.float32), 2, 0)
    colours = cv2.remap(picture, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    seen = cv2.cvtColor(colours.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    # neighbours along the contour speak with it, which quiets the weave
    seen = (np.roll(seen, 1, axis=0) + seen + np.roll(seen, -1, axis=0)) / 3
    sums = np.concatenate([np.zeros_like(seen[:, :1]), np.cumsum(seen, axis=1)], axis=1)
    middle = np.arange(side, side + 2 * half + 1)
    inside = (sums[:, middle] - sums[:, middle - side]) / side
    beyond = (sums[:, middle + side] - sums[:, middle]) / side
    return np.asarray(np.linalg.norm(inside - beyond, axis=2), np.float64)


def _cheapest_path(cost: NDArray[np.float64]) -> NDArray[np.intp]:
    """Choose a place (N,) for each point, neighbours near one another, at least cost in all.

    The contour is cut into parts that are solved side by side, each begun early and ended late: its
    arbitrary ends are forgotten by then.
    """
    count, places = cost.shape
    size = -(-count // _PARTS)
    steps = np.arange(-_MEMORY, size + _MEMORY)
    part_cost = cost[(steps[:, None] + size * np.arange(_PARTS)) % count]  # (step, part, place)
    ramp = _STIFFNESS * np.arange(places)
    totals = part_cost.copy()
    for before, here in pairwise(totals):
        # the cheapest way to a place: from itself or below it, and from above it
        below = np.minimum.accumulate(before - ramp, axis=1) + ramp
        above = np.minimum.accumulate((before + ramp)[:, ::-1], axis=1)[:, ::-1] - ramp
        here += np.minimum(below, above)
    bend = np.abs(np.subtract.outer(ramp, ramp))
    path = np.empty((len(steps), _PARTS), np.intp)
    path[-1] = totals[-1].argmin(axis=1)
    for i in range(len(steps) - 1, 0, -1):
        path[i - 1] = (totals[i - 1] + bend[path[i]]).argmin(axis=1)
    return path[_MEMORY : _MEMORY + size].T.ravel()[:count]

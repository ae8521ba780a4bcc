"""Whether a square lies on the cloth, the least move that puts it there, and what is missing.

All in the square's own frame: x right, y down along its sides, millimetres. A square of half side s
lies wholly on a polygon exactly when its centre is inside the polygon and at least s away from its
outline in the maximum norm; everything here follows from that.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from motiffit.record import Sides

__all__ = ["holds_square", "missing_cloth", "nearest_room"]

Points = NDArray[np.float64]

_TOUCH_MM = 1e-6
"""A square that touches the outline still lies on the cloth; covers rounding only."""

_SAMPLE_MM = 1.0
"""Step along the outline when asking which part of a square has no cloth."""


def holds_square(outline: Points, centres: Points, half_side: float) -> NDArray[np.bool_]:
    """Tell for each centre whether the square round it lies wholly inside the outline.

    Parameters
    ----------
    outline
        ``(N, 2)`` corners of a simple polygon, mm.
    centres
        ``(M, 2)`` centres, mm.
    half_side
        Half the side of the axis-parallel square, mm.

    Returns
    -------
    ndarray
        ``(M,)`` bool.
    """
    if len(centres) == 0:
        return np.zeros(0, bool)
    far = _distance_max_norm(outline, centres) >= half_side - _TOUCH_MM
    return far & _is_inside(outline, centres)


def nearest_room(
    outline: Points, centre: Points, half_side: float, back: Points, forth: Points
) -> Points | None:
    """Find the nearest centre at which the square lies wholly inside the outline.

    Parameters
    ----------
    outline
        ``(N, 2)`` corners of a simple polygon, mm.
    centre
        ``(2,)`` where the square should be, mm.
    half_side
        Half the side of the axis-parallel square, mm.
    back, forth
        ``(2,)`` how far it may move along x and y, mm: ``back`` at most 0, ``forth`` at least 0.

    Returns
    -------
    ndarray or None
        ``(2,)``, or None where no such place is within reach.
    """
    if holds_square(outline, centre[None], half_side)[0]:
        return centre
    walls = _walls(outline, half_side)
    low, high = centre + back, centre + forth
    box = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    walls = np.concatenate([walls, np.stack([box, np.roll(box, -1, axis=0)], axis=1)])
    near = (walls.min(axis=1) <= high).all(axis=1) & (walls.max(axis=1) >= low).all(axis=1)
    walls = walls[near]
    spots = np.concatenate([_feet(walls, centre), _crossings(walls)])
    spots = spots[((spots >= low - _TOUCH_MM) & (spots <= high + _TOUCH_MM)).all(axis=1)]
    spots = spots[np.argsort(np.linalg.norm(spots - centre, axis=1), kind="stable")]
    for first in range(0, len(spots), 256):
        some = spots[first : first + 256]
        good = np.flatnonzero(holds_square(outline, some, half_side))
        if len(good):
            return np.asarray(some[good[0]])
    return None


def missing_cloth(outline: Points, centre: Points, half_side: float, motif_half: Points) -> Sides:
    """Tell how much must be sewn to each side so that a square whose middle is on cloth is whole.

    The garment gives the largest rectangle that lies on the cloth, within the square and round the
    motif; what lacks of the square beyond that rectangle's sides is missing. Where the motif itself
    reaches over the outline, the rectangle is only held to contain the square's middle.

    Parameters
    ----------
    outline
        ``(N, 2)`` corners of a simple polygon, mm.
    centre
        ``(2,)`` middle of the square, mm.
    half_side
        Half the side of the axis-parallel square, mm.
    motif_half
        ``(2,)`` half width and half height, mm, of what must stay whole in the middle.
    """
    edge = _sampled(outline) - centre
    edge = edge[(np.abs(edge) < half_side - _TOUCH_MM).all(axis=1)]
    core = np.minimum(motif_half, half_side)
    if not (np.abs(edge) > core).any(axis=1).all():
        core = np.zeros(2)
    # outline off a corner of the motif can be cut away by either of two sides: every depth of the
    # top and of the bottom is tried, each with the depths of left and right that it leaves needed
    tops, top_beside = _depths(edge * (1, -1), half_side, core)
    bottoms, bottom_beside = _depths(edge, half_side, core)
    level = edge[np.abs(edge[:, 1]) <= core[1], 0]
    beside = np.maximum(top_beside[:, None], bottom_beside[None])
    beside = np.maximum(beside, [_depth(half_side, -level), _depth(half_side, level)])
    width = 2 * half_side - beside.sum(axis=2)
    height = 2 * half_side - tops[:, None] - bottoms[None]
    i, j = np.unravel_index(np.argmax(width * height), width.shape)
    left, right = beside[i, j]
    return Sides(top=float(tops[i]), right=float(right), bottom=float(bottoms[j]), left=float(left))


def _depth(half_side: float, reached: NDArray[np.float64]) -> float:
    """Cut needed from a side so that outline reaching so far toward it is gone."""
    inward = reached[reached > 0]
    return float(half_side - inward.min()) if len(inward) else 0.0


def _depths(
    edge: Points, half_side: float, core: Points
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Depths at which to cut from the bottom, and what each leaves to cut at left and right.

    Only the half below the motif counts; a depth must clear the outline straight below it.
    """
    below = edge[edge[:, 1] > core[1]]
    least = _depth(half_side, below[np.abs(below[:, 0]) <= core[0], 1])
    depths = np.unique(np.append(half_side - below[:, 1], (0.0, least)))
    depths = depths[depths >= least]
    beside = np.zeros((len(depths), 2))
    for row, depth in enumerate(depths):
        kept = below[below[:, 1] < half_side - depth - _TOUCH_MM, 0]
        beside[row] = _depth(half_side, -kept), _depth(half_side, kept)
    return depths, beside


def _distance_max_norm(outline: Points, points: Points) -> NDArray[np.float64]:
    """Least max-norm distance from each point to the outline."""
    start = outline[None] - points[:, None]
    step = np.roll(outline, -1, axis=0)[None] - outline[None]
    ax, ay = start[..., 0], start[..., 1]
    bx, by = np.broadcast_arrays(step[..., 0], ax)[0], np.broadcast_arrays(step[..., 1], ay)[0]
    # max(|ax + t bx|, |ay + t by|) is convex in t: its least is at an end, a zero or a tie
    best = np.minimum(np.maximum(abs(ax), abs(ay)), np.maximum(abs(ax + bx), abs(ay + by)))
    for numerator, denominator in ((-ax, bx), (-ay, by), (ay - ax, bx - by), (-ax - ay, bx + by)):
        safe = np.where(denominator == 0, 1.0, denominator)
        t = np.clip(np.where(denominator == 0, 0.0, numerator / safe), 0.0, 1.0)
        best = np.minimum(best, np.maximum(abs(ax + t * bx), abs(ay + t * by)))
    return np.asarray(best.min(axis=1))


def _is_inside(outline: Points, points: Points) -> NDArray[np.bool_]:
    """Even-odd rule along a ray to the right."""
    a, b = outline[None], np.roll(outline, -1, axis=0)[None]
    y = points[:, None, 1]
    spans = (a[..., 1] > y) != (b[..., 1] > y)
    rise = np.where(spans, b[..., 1] - a[..., 1], 1.0)
    at_x = a[..., 0] + (y - a[..., 1]) / rise * (b[..., 0] - a[..., 0])
    return np.asarray((spans & (at_x > points[:, None, 0])).sum(axis=1) % 2 == 1)


def _walls(outline: Points, half_side: float) -> Points:
    """Segments ``(K, 2, 2)`` that bound where no centre may be: each edge swept by the square."""
    corners = half_side * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    following = np.roll(outline, -1, axis=0)
    swept = [np.stack([outline + c, following + c], axis=1) for c in corners]
    for c, d in pairwise([*corners, corners[0]]):
        swept.append(np.stack([outline + c, outline + d], axis=1))
    return np.concatenate(swept)


def _feet(walls: Points, point: Points) -> Points:
    """Nearest point of each segment to a point."""
    start, step = walls[:, 0], walls[:, 1] - walls[:, 0]
    length2 = np.maximum((step**2).sum(axis=1), _TOUCH_MM**2)
    t = np.clip(((point - start) * step).sum(axis=1) / length2, 0.0, 1.0)
    return np.asarray(start + t[:, None] * step)


def _crossings(walls: Points) -> Points:
    """Points where two segments cross."""
    i, j = np.triu_indices(len(walls), 1)
    p, r = walls[i, 0], walls[i, 1] - walls[i, 0]
    q, s = walls[j, 0], walls[j, 1] - walls[j, 0]
    turn = r[:, 0] * s[:, 1] - r[:, 1] * s[:, 0]
    apart = q - p
    safe = np.where(turn == 0, 1.0, turn)
    t = (apart[:, 0] * s[:, 1] - apart[:, 1] * s[:, 0]) / safe
    u = (apart[:, 0] * r[:, 1] - apart[:, 1] * r[:, 0]) / safe
    cross = (turn != 0) & (t >= 0) & (t <= 1) & (u >= 0) & (u <= 1)
    return np.asarray(p[cross] + t[cross, None] * r[cross])


def _sampled(outline: Points) -> Points:
    """Points along the outline, at most `_SAMPLE_MM` apart."""
    step = np.roll(outline, -1, axis=0) - outline
    counts = np.ceil(np.abs(step).max(axis=1) / _SAMPLE_MM).astype(int) + 1
    edge = np.repeat(np.arange(len(outline)), counts)
    along = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    return np.asarray(outline[edge] + step[edge] * (along / counts[edge])[:, None])

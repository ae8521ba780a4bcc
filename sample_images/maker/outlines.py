"""Curves and garment outlines in millimetres: x to the wearer's left as we look, y down."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Path = NDArray[np.float64]
Raw = Sequence[tuple[float, float]]


def curve(points: Raw | Path, steps: int = 14) -> Path:
    """Smooth open curve through points (Catmull-Rom)."""
    knots = np.asarray(points, dtype=float)
    if len(knots) < 3:
        return knots
    padded = np.vstack([2 * knots[0] - knots[1], knots, 2 * knots[-1] - knots[-2]])
    t = np.linspace(0, 1, steps, endpoint=False)[:, None]
    pieces = []
    for a, b, c, d in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        pieces.append(
            0.5
            * (
                2 * b
                + (c - a) * t
                + (2 * a - 5 * b + 4 * c - d) * t**2
                + (3 * b - a - 3 * c + d) * t**3
            )
        )
    return np.vstack([*pieces, knots[-1:]])


def joined(*curves: Raw | Path) -> Path:
    """Join curves end to end; joints stay corners."""
    return np.vstack([curve(part) for part in curves])


def mirrored(half: Path) -> Path:
    """Close a right half (from the middle at the top, clockwise, to the middle at the bottom)."""
    return np.vstack([half, half[-2:0:-1] * [-1, 1]])


def closed(points: Raw) -> Path:
    """Smooth closed curve through points."""
    knots = np.asarray(points, dtype=float)
    count = len(knots)
    around = curve(np.vstack([knots[-2:], knots, knots[:3]]), steps=12)
    return around[2 * 12 : (2 + count) * 12]


def resampled(path: Path, step: float) -> Path:
    """Points every ``step`` along an open path."""
    lengths = np.hypot(*np.diff(path, axis=0).T)
    travelled = np.concatenate([[0.0], np.cumsum(lengths)])
    marks = np.arange(0, travelled[-1], step)
    return np.column_stack([np.interp(marks, travelled, path[:, axis]) for axis in (0, 1)])


def beside(path: Path, offset: float) -> Path:
    """Path shifted sideways: positive to the right of its direction (y down)."""
    ahead = np.gradient(path, axis=0)
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    return path + offset * np.column_stack([-ahead[:, 1], ahead[:, 0]])


def band(path: Path, width: float) -> Path:
    """Outline a band along an open path, to the right of its direction."""
    return np.vstack([path, beside(path, width)[::-1]])


def stretched(path: Path, by: float) -> Path:
    """Make an open path longer at both ends, straight on."""
    start, end = path[0] - path[1], path[-1] - path[-2]
    return np.vstack(
        [path[0] + by * start / np.hypot(*start), path, path[-1] + by * end / np.hypot(*end)]
    )

"""Ink evidence: where a motif's colours end, to draw a roughly known box tight.

The cloth round the box tells the ground's colour and how uneven it is; what stands out from that
inside the box is ink. On patterned or creased cloth nothing stands out enough; there `relief` looks
at outlines instead.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from motiffit.measure.patch import Patch, belonging

__all__ = ["Ink", "find_ink"]

Floats = NDArray[np.float64]

_CONTRAST = 1.6
"""Ink must stand out by this many times the ring's own unevenness (its 90th percentile)."""

_BLUR_SHARE = 0.15
"""Nor does less than this share of the usual difference count: a strong print's blur reaches far,
and halving it at its edge would lose the palest whiskers."""

_LEAST_DIFFERENCE = 5.0
"""CIE Lab units that count as ink at the least: compression alone makes two or three."""

_RING_SAMPLES = 4000
"""Pixels that tell the ring's colour well enough."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """What stands out in and about a box: ink, or the outlines of relief.

    Attributes
    ----------
    edges_mm : (4,) float64
        Left, top, right, bottom of the ink in the frame of the box (origin of the mm frame,
        turned as the box is); NaN where relief does not tell it.
    strength
        How far typical ink stands out, in units of what is needed; below 1 nothing counts.
    hull_mm : (N, 2) float64
        Its convex hull on the cloth.
    """

    edges_mm: Floats
    strength: float
    hull_mm: Floats


def find_ink(patch: Patch) -> Ink | None:
    """Find the ink of a roughly known box; None where the ground is too uneven to tell."""
    far = _distance(patch.lab, patch.ring)
    typical = float(np.percentile(far[patch.inside], 85))
    needed = max(_LEAST_DIFFERENCE, _CONTRAST * float(np.percentile(far[patch.ring], 90)))
    strength = typical / needed
    needed = max(needed, _BLUR_SHARE * typical)
    ink = belonging(patch.above(far, needed) & patch.cloth, patch.inside)
    if strength < 1 or ink.sum() < 12:
        return None
    rows, cols = np.nonzero(ink)
    edges = np.array([cols.min(), rows.min(), cols.max() + 1, rows.max() + 1], float)
    return Ink(edges_mm=patch.to_mm(edges), strength=strength, hull_mm=patch.hull_mm(ink))


def _distance(lab: NDArray[np.float32], ring: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Return the Lab distance to a plane of colour fitted to the ring, stray colours left out."""
    rows, cols = np.mgrid[: lab.shape[0], : lab.shape[1]] + 0.5
    design = np.stack([np.ones_like(cols), cols / lab.shape[1], rows / lab.shape[0]], axis=-1)
    some = np.flatnonzero(ring)[:: max(1, int(ring.sum()) // _RING_SAMPLES)]
    about, seen = design.reshape(-1, 3)[some], lab.reshape(-1, 3)[some].astype(np.float64)
    kept = np.ones(len(some), bool)
    for _ in range(3):
        # least squares, not normal equations: a ring of one row or column is singular
        fit = np.linalg.lstsq(about[kept], seen[kept], rcond=None)[0]
        far = np.linalg.norm(seen - about @ fit, axis=-1)
        kept = far <= np.percentile(far, 80)
    off = lab - design.astype(np.float32) @ fit.astype(np.float32)
    return np.asarray(np.sqrt(np.einsum("ijk,ijk->ij", off, off)), np.float32)

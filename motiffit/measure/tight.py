"""Drawing a motif's box tight: the net's edges, corrected by ink or relief where it is clear."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.ink import Ink, find_ink
from motiffit.measure.patch import cut_patch
from motiffit.measure.relief import find_relief

__all__ = ["Tight", "own_turn", "tighten"]

Floats = NDArray[np.float64]

_OUTWARD = np.array([-1.0, -1.0, 1.0, 1.0])

_CLEAR_INK = 3.0
"""Strength from which the ink alone decides; below, net and ink share the edge."""

_BARE_MARGIN = 1.4
"""Strength from which a margin without ink inside a box is believed to be bare cloth."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Reach:
    """How far an edge may move: by a share of its side, or a little on small ones.

    Nor by more than so many of the net's own spreads, which is surest of simple edges.
    """

    share: float
    least_mm: float
    spreads: float

    def holds(self, off_mm: Floats, sides_mm: Floats, spread_mm: Floats) -> NDArray[np.bool_]:
        """Tell which edges (4,) may move by these distances."""
        most = np.minimum(
            np.maximum(self.share * sides_mm, self.least_mm), self.spreads * spread_mm
        )
        return np.asarray(np.abs(off_mm) <= most)


_USUAL = _Reach(share=0.1, least_mm=3.0, spreads=2.5)
"""Farther off lies another thing. A share of 0.08 does as well on 521 real photos."""

_INWARD = _Reach(share=0.15, least_mm=4.0, spreads=4.0)
"""Across a bare margin: of some 40 boxes among 493 that it moves on real photos 32 get better."""

_NARROW = 0.5
"""A word's edges are seen from as far as its length asks for: no side counts as shorter than this
share of the longer one. Of 724 real photos two more have IoU >= 0.9 so, and none less."""

_TURN_GAIN = 0.88
_TURN_MOST_DEG = 20.0
_TURN_EDGES = 2
"""A motif is turned when a turned box is smaller by an eighth; beyond 20 degrees the smallest box
follows the drawing (a rocket drawn aslant), not how it was sewn on. Two edges must lie on ink."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tight:
    """A tight box: left, top, right, bottom in the frame of its turn.

    Attributes
    ----------
    box_mm : (4,)
        The edges.
    inked : (4,) bool
        Which edges the ink confirmed.
    beyond_mm : (4,)
        How far ink that hangs together with the motif's lies outside an edge that did not follow
        it; 0 where none does.
    ink
        The ink or relief found, None where the ground hides it.
    """

    box_mm: Floats
    inked: NDArray[np.bool_]
    beyond_mm: Floats
    ink: Ink | None


def tighten(
    flat: FlatView, mask: NDArray[np.bool_], box_mm: Floats, spread_mm: Floats, turn_deg: float
) -> Tight:
    """Move each edge of a box to the ink, or else the relief, where that lies within reach."""
    patch = cut_patch(flat, mask, box_mm, turn_deg)
    ink = (find_ink(patch) or find_relief(patch)) if patch is not None else None
    if patch is None or ink is None:
        return Tight(box_mm=box_mm, inked=np.zeros(4, bool), beyond_mm=np.zeros(4), ink=None)
    sides = np.tile(box_mm[2:] - box_mm[:2], 2)
    sides = np.maximum(sides, _NARROW * sides.max())
    off = ink.edges_mm - box_mm
    inked = _USUAL.holds(off, sides, spread_mm)
    if ink.strength > _BARE_MARGIN:
        inked |= (off * _OUTWARD < 0) & _INWARD.holds(off, sides, spread_mm)
    weight = min(max(ink.strength / _CLEAR_INK, 0.5), 1.0)
    return Tight(
        box_mm=box_mm + np.where(inked, weight * off, 0.0),
        inked=inked,
        beyond_mm=_beyond(off * _OUTWARD, inked, patch.room_mm),
        ink=ink,
    )


def _beyond(outward_mm: Floats, inked: NDArray[np.bool_], room_mm: float) -> Floats:
    """Return how far ink reaches out; what runs on past the searched room is a seam or a fold."""
    counts = ~inked & (outward_mm > 0) & (outward_mm < 0.95 * room_mm)
    return np.where(counts, outward_mm, 0.0)


def own_turn(tight: Tight) -> float | None:
    """Return how far the motif is turned within its box, clockwise; None where it shows no turn."""
    if tight.ink is None or tight.inked.sum() < _TURN_EDGES:
        return None
    (_, _), (long, short), free = cv2.minAreaRect(tight.ink.hull_mm.astype(np.float32))
    turn = float((free + 45) % 90 - 45)
    width, height = tight.box_mm[2:] - tight.box_mm[:2]
    smaller = long * short < _TURN_GAIN * width * height
    return turn if smaller and abs(turn) <= _TURN_MOST_DEG else None

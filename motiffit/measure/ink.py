"""Ink evidence: where a motif's colours end, to draw a roughly known box tight.

The cloth round the box tells the ground's colour and how uneven it is; what stands out from that
inside the box is ink. On patterned cloth nothing stands out enough, and the box stays as it was.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.view import axes_of

__all__ = ["Ink", "find_ink"]

Floats = NDArray[np.float64]

_ROOM = 0.22
"""Width of the ring round the box, in parts of its longer side."""

_ROOM_LEAST_MM = 7.0
"""The ring is never narrower: its colour must be told on cloth, not on blur."""

_CELLS = 220
"""Pixels along the longer side of box and ring: finer than the blur of any photo seen."""

_CONTRAST = 1.6
"""Ink must stand out by this many times the ring's own unevenness (its 90th percentile)."""

_BLUR_SHARE = 0.15
"""Nor does less than this share of the usual difference count: a strong print's blur reaches far,
and halving it at its edge would lose the palest whiskers."""

_BLUR_MM = 1.0
_EDGE_SHARE = 0.4
"""An edge lies where the difference falls to this share of the strongest this near: a sharp edge's
blur reaches about so far beyond it. Half would be the edge itself; people who box motifs in photos
leave half a millimetre more. A wider search would take a pale rim round a print for blur."""

_LEAST_DIFFERENCE = 5.0
"""CIE Lab units that count as ink at the least: compression alone makes two or three."""

_RING_SAMPLES = 4000
"""Pixels that tell the ring's colour well enough."""

_UNIT = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Ink:
    """What stands out in and about a box.

    Attributes
    ----------
    edges_mm : (4,) float64
        Left, top, right, bottom of the ink in the frame of the box (origin of the mm frame,
        turned as the box is).
    strength
        How far typical ink stands out, in units of what is needed; below 1 nothing counts.
    room_mm
        How far about the box was searched.
    hull_mm : (N, 2) float64
        Convex hull of the ink on the cloth.
    """

    edges_mm: Floats
    strength: float
    room_mm: float
    hull_mm: Floats


def find_ink(
    flat: FlatView, mask: NDArray[np.bool_], box_mm: Floats, turn_deg: float
) -> Ink | None:
    """Find the ink of a roughly known box; None where the ground is too uneven to tell.

    Parameters
    ----------
    flat
        The metric picture.
    mask : (H, W) bool
        The garment, on the flat view's grid.
    box_mm : (4,)
        Left, top, right, bottom in the mm frame turned by `turn_deg`.
    turn_deg
        Turn of the box, clockwise.
    """
    room = max(_ROOM_LEAST_MM, _ROOM * max(box_mm[2] - box_mm[0], box_mm[3] - box_mm[1]))
    low = box_mm[:2] - room
    size_mm = box_mm[2:] + room - low
    step = float(size_mm.max()) / _CELLS
    axes = axes_of(turn_deg)
    fine = flat.near((low + size_mm * _UNIT) @ axes.T, mm_per_px=step)
    step = max(step, fine.mm_per_px)
    patch = _Patch(low=low, size_mm=size_mm, step=step, axes=axes)
    lab = patch.colours(fine)
    cloth = patch.warp(flat, (mask & flat.valid).astype(np.uint8), cv2.INTER_NEAREST) > 0
    x0, y0, x1, y1 = (box_mm - np.tile(low, 2)) / step
    rows, cols = np.mgrid[: lab.shape[0], : lab.shape[1]] + 0.5
    slack = 0.02 * max(x1 - x0, y1 - y0) + 1
    inside = (cols > x0) & (cols < x1) & (rows > y0) & (rows < y1)
    ring = cloth & ~(
        (cols > x0 - slack) & (cols < x1 + slack) & (rows > y0 - slack) & (rows < y1 + slack)
    )
    if ring.sum() < 60 or inside.sum() < 30:
        return None
    far = _distance(lab, cols / lab.shape[1], rows / lab.shape[0], ring)
    typical = float(np.percentile(far[inside], 85))
    needed = max(_LEAST_DIFFERENCE, _CONTRAST * float(np.percentile(far[ring], 90)))
    strength = typical / needed
    needed = max(needed, _BLUR_SHARE * typical)
    across = 2 * max(1, round(_BLUR_MM / step)) + 1
    crest = cv2.dilate(far, np.ones((across, across), np.uint8))
    ink = _belonging((far > np.maximum(needed, _EDGE_SHARE * crest)) & cloth, inside)
    if strength < 1 or ink.sum() < 12:
        return None
    edges, hull = patch.extent(ink)
    return Ink(edges_mm=edges, strength=strength, room_mm=room, hull_mm=hull)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patch:
    """A turned rectangle in pixels of ``step`` mm."""

    low: Floats  # its least corner (2,) in the turned frame
    size_mm: Floats
    step: float
    axes: Floats

    def warp(self, flat: FlatView, picture: NDArray[np.uint8], how: int) -> NDArray[np.uint8]:
        """Cut the rectangle out of a picture on a flat view's grid."""
        width, height = (max(4, int(np.ceil(side / self.step))) for side in self.size_mm)
        first = flat.to_flat(self.axes @ (self.low + self.step / 2))[0]
        matrix = np.column_stack([self.axes * self.step / flat.mm_per_px, first])
        flags = how | cv2.WARP_INVERSE_MAP
        return np.asarray(cv2.warpAffine(picture, matrix, (width, height), flags=flags), np.uint8)

    def colours(self, flat: FlatView) -> NDArray[np.float32]:
        """Return what a flat view shows there, in Lab."""
        blur = self.step / flat.mm_per_px / 2.5
        picture = flat.picture
        if blur > 0.5:
            picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), blur), np.uint8)
        shown = self.warp(flat, picture, cv2.INTER_LINEAR).astype(np.float32) / 255
        return np.asarray(cv2.cvtColor(shown, cv2.COLOR_RGB2LAB), np.float32)

    def extent(self, ink: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        """Return the edges of ink in the turned frame, and its hull on the cloth, both in mm."""
        rows, cols = np.nonzero(ink)
        edges = np.array([cols.min(), rows.min(), cols.max() + 1, rows.max() + 1]) * self.step
        hull = cv2.convexHull(np.column_stack([cols, rows]).astype(np.int32))[:, 0]
        hull_mm = ((hull + 0.5) * self.step + self.low) @ self.axes.T
        return edges + np.tile(self.low, 2), hull_mm


def _distance(
    lab: NDArray[np.float32], x: Floats, y: Floats, ring: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Return the Lab distance to a plane of colour fitted to the ring, stray colours left out."""
    design = np.stack([np.ones_like(x), x, y], axis=-1)
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


def _belonging(found: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep the parts that lie mostly in the box, without specks."""
    count, labels = cv2.connectedComponents(found.astype(np.uint8), connectivity=8)
    area = np.bincount(labels.ravel(), minlength=count)
    within = np.bincount(labels[inside], minlength=count)
    keep = (within > 0.6 * area) & (area >= 3)
    keep[0] = False
    return np.asarray(keep[labels])

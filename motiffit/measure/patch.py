"""A patch of the garment about a roughly known box, cut out fine enough to draw the box tight."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.view import axes_of

__all__ = ["Patch", "belonging", "cut_patch"]

Floats = NDArray[np.float64]

_ROOM = 0.22
"""Width of the ring round the box, in parts of its longer side."""

_ROOM_LEAST_MM = 7.0
"""The ring is never narrower: its colour must be told on cloth, not on blur."""

_CELLS = 220
"""Pixels along the longer side of box and ring: finer than the blur of any photo seen."""

_CREST_MM = 1.0
_EDGE_SHARE = 0.4
"""An edge lies where what stands out falls to this share of the strongest this near: a sharp edge's
blur reaches about so far beyond it. Half would be the edge itself; people who box motifs in photos
leave half a millimetre more. Outlines end a millimetre outside by this (median of real photos). A
wider search would take a pale rim round a print for blur."""

_UNIT = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A box, turned as it is on the cloth, with a ring of cloth about it.

    Attributes
    ----------
    low_mm : (2,) float64
        The patch's least corner in the mm frame turned as the box is.
    step_mm
        Side of a pixel.
    axes : (2, 2) float64
        From the turned frame to the mm frame.
    room_mm
        Width of the ring.
    box_px : (4,) float64
        Left, top, right, bottom of the box in pixels of the patch.
    lab : (H, W, 3) float32
        Its colours, CIE Lab.
    cloth, inside, ring : (H, W) bool
        The garment; the box; what of the garment lies round the box.
    """

    low_mm: Floats
    step_mm: float
    axes: Floats
    room_mm: float
    box_px: Floats
    lab: NDArray[np.float32]
    cloth: NDArray[np.bool_]
    inside: NDArray[np.bool_]
    ring: NDArray[np.bool_]

    def to_mm(self, edges_px: Floats) -> Floats:
        """Return left, top, right, bottom in the turned mm frame."""
        return np.asarray(edges_px * self.step_mm + np.tile(self.low_mm, 2))

    def above(self, seen: NDArray[np.float32], needed: float) -> NDArray[np.bool_]:
        """Tell where what is seen (H, W) is more than needed, and not just the blur of more."""
        across = 2 * max(1, round(_CREST_MM / self.step_mm)) + 1
        crest = cv2.dilate(seen, np.ones((across, across), np.uint8))
        return np.asarray(seen > np.maximum(needed, _EDGE_SHARE * crest))

    def hull_mm(self, found: NDArray[np.bool_]) -> Floats:
        """Return the convex hull (N, 2), on the cloth, of what was found."""
        rows, cols = np.nonzero(found)
        hull = cv2.convexHull(np.column_stack([cols, rows]).astype(np.int32))[:, 0]
        return np.asarray(((hull + 0.5) * self.step_mm + self.low_mm) @ self.axes.T)


def cut_patch(
    flat: FlatView, mask: NDArray[np.bool_], box_mm: Floats, turn_deg: float
) -> Patch | None:
    """Cut out a box and its ring; None where too little of either is seen.

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
    width, height = (max(4, int(np.ceil(side / step))) for side in size_mm)

    def warp(seen: FlatView, picture: NDArray[np.uint8], how: int) -> NDArray[np.uint8]:
        first = seen.to_flat(axes @ (low + step / 2))[0]
        matrix = np.column_stack([axes * step / seen.mm_per_px, first])
        flags = how | cv2.WARP_INVERSE_MAP
        return np.asarray(cv2.warpAffine(picture, matrix, (width, height), flags=flags), np.uint8)

    blur = step / fine.mm_per_px / 2.5
    picture = fine.picture
    if blur > 0.5:
        picture = np.asarray(cv2.GaussianBlur(picture, (0, 0), blur), np.uint8)
    shown = warp(fine, picture, cv2.INTER_LINEAR).astype(np.float32) / 255
    cloth = warp(flat, (mask & flat.valid).astype(np.uint8), cv2.INTER_NEAREST) > 0
    box_px = (box_mm - np.tile(low, 2)) / step
    inside = _within(box_px, cloth.shape, 0.0)
    slack = 0.02 * float((box_px[2:] - box_px[:2]).max()) + 1
    ring = cloth & ~_within(box_px, cloth.shape, slack)
    if ring.sum() < 60 or inside.sum() < 30:
        return None
    return Patch(
        low_mm=low,
        step_mm=step,
        axes=axes,
        room_mm=room,
        box_px=box_px,
        lab=np.asarray(cv2.cvtColor(shown, cv2.COLOR_RGB2LAB), np.float32),
        cloth=cloth,
        inside=inside,
        ring=ring,
    )


def _within(box_px: Floats, shape: tuple[int, ...], slack: float) -> NDArray[np.bool_]:
    """Tell which pixels' middles lie in a box made larger by `slack`."""
    rows, cols = np.mgrid[: shape[0], : shape[1]] + 0.5
    x0, y0, x1, y1 = box_px + slack * np.array([-1, -1, 1, 1])
    return np.asarray((cols > x0) & (cols < x1) & (rows > y0) & (rows < y1))


def belonging(found: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep the parts that lie mostly in the box, without specks."""
    count, labels = cv2.connectedComponents(found.astype(np.uint8), connectivity=8)
    area = np.bincount(labels.ravel(), minlength=count)
    within = np.bincount(labels[inside], minlength=count)
    keep = (within > 0.6 * area) & (area >= 3)
    keep[0] = False
    return np.asarray(keep[labels])

"""Ink evidence: where a motif's colours end, to draw a roughly known box tight.

The cloth round the box tells the ground's colour and how uneven it is; what stands out from that
inside the box is ink. On patterned cloth nothing stands out enough, and the box stays as it was.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.view import View

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

_LEAST_DIFFERENCE = 5.0
"""CIE Lab units that count as ink at the least: compression alone makes two or three."""


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
    step = max(float(size_mm.max()) / _CELLS, flat.mm_per_px)
    lab, cloth = _patch(flat, mask, low, size_mm, step, turn_deg)
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
    ink = _belonging((far > needed) & cloth, inside)
    if strength < 1 or ink.sum() < 12:
        return None
    edges, hull = _extent(ink, low, step, turn_deg)
    return Ink(edges_mm=edges, strength=strength, room_mm=room, hull_mm=hull)


def _patch(
    flat: FlatView,
    mask: NDArray[np.bool_],
    low: Floats,
    size_mm: Floats,
    step: float,
    turn_deg: float,
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return the Lab picture and the cloth of a turned rectangle."""
    width, height = (max(4, int(np.ceil(side / step))) for side in size_mm)
    axes = View(centre_mm=(0.0, 0.0), side_mm=1.0, turn_deg=turn_deg).axes()
    first = flat.to_flat(axes @ (low + step / 2))[0]
    matrix = np.column_stack([axes * step / flat.mm_per_px, first])
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    blur = step / flat.mm_per_px / 2.5
    soft = cv2.GaussianBlur(flat.picture, (0, 0), blur) if blur > 0.5 else flat.picture
    picture = cv2.warpAffine(soft, matrix, (width, height), flags=flags)
    seen = (mask & flat.valid).astype(np.uint8)
    cloth = cv2.warpAffine(
        seen, matrix, (width, height), flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    )
    lab = cv2.cvtColor(picture.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    return np.asarray(lab, np.float32), cloth.astype(bool)


def _distance(
    lab: NDArray[np.float32], x: Floats, y: Floats, ring: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Return the Lab distance to a plane of colour fitted to the ring, stray colours left out."""
    design = np.stack([np.ones_like(x), x, y], axis=-1)
    kept = ring
    for _ in range(3):
        fit = np.linalg.lstsq(design[kept], lab[kept].astype(np.float64), rcond=None)[0]
        far = np.linalg.norm(lab - design @ fit, axis=-1)
        kept = ring & (far <= np.percentile(far[ring], 80))
    return np.asarray(far, np.float32)


def _belonging(found: NDArray[np.bool_], inside: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep the parts that lie mostly in the box, without specks."""
    count, labels = cv2.connectedComponents(found.astype(np.uint8), connectivity=8)
    area = np.bincount(labels.ravel(), minlength=count)
    within = np.bincount(labels[inside], minlength=count)
    keep = (within > 0.6 * area) & (area >= 3)
    keep[0] = False
    return np.asarray(keep[labels])


def _extent(
    ink: NDArray[np.bool_], low: Floats, step: float, turn_deg: float
) -> tuple[Floats, Floats]:
    """Return the edges and the hull of the ink in mm."""
    rows, cols = np.nonzero(ink)
    edges = np.array([cols.min(), rows.min(), cols.max() + 1, rows.max() + 1]) * step
    hull = cv2.convexHull(np.column_stack([cols, rows]).astype(np.int32))[:, 0]
    axes = View(centre_mm=(0.0, 0.0), side_mm=1.0, turn_deg=turn_deg).axes()
    return edges + np.tile(low, 2), ((hull + 0.5) * step + low) @ axes.T

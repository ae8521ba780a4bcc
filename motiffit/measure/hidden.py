"""Whether the reference square hides what counts: the motif, or cloth of the square to be cut."""

from collections.abc import Iterator

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.marker import PAPER_TO_SIDE
from motiffit.measure.geometry import box_corners
from motiffit.measure.room import holds_square
from motiffit.measure.window import Fit
from motiffit.record import Message, Motif, Reference, make_message
from motiffit.settings import Settings

__all__ = ["doubt_ground", "doubt_place", "spread_margin"]

Floats = NDArray[np.float64]

_NAMES = {"card": "card", "square": "paper square"}

_LEAST_MM2 = 25.0
"""An overlap below this, a strip as thin as the outline is sure, hides nothing."""

_RING, _ON_GARMENT = 1.12, 0.45
"""Size of a ring round the reference's paper, against it, and the share of the ring on the garment
from which it may hide a motif. The outline itself may run round the paper as round a bay."""


def spread_margin(kind: str, corners_mm: Floats) -> Floats:
    """Return the outer corners (4, 2) of a reference: a card has a white margin."""
    middle = corners_mm.mean(axis=0)
    return np.asarray(middle + (corners_mm - middle) * (PAPER_TO_SIDE if kind == "card" else 1.0))


def doubt_place(
    reference: Reference, paper_mm: Floats, motif: Motif | None, fit: Fit, settings: Settings
) -> Iterator[Message]:
    """Doubt a square that the reference lies on, or a motif of which it may hide a part.

    Parameters
    ----------
    reference
        The reference square.
    paper_mm
        (4, 2) the outer corners of its paper on the cloth.
    motif
        The motif proposed; None where there is none.
    fit
        The square proposed.
    settings
        Seam allowance and clearance.
    """
    counts = []
    if fit.finished_mm is not None:
        counts.append(fit.square_corners(fit.finished_mm + 2 * settings.seam_allowance_mm))
    if motif is not None:
        width, height = (s + 2 * settings.clearance_mm for s in (motif.width_mm, motif.height_mm))
        counts.append(tuple(box_corners(motif.centre_mm, width, height, motif.angle_deg)))
    if any(_overlap_mm2(paper_mm, np.array(corners)) > _LEAST_MM2 for corners in counts):
        code = "reference-in-the-way" if motif is not None else "reference-on-square"
        yield make_message(code, kind=_NAMES[reference.kind])


def doubt_ground(reference: Reference, paper_mm: Floats, outline_mm: Floats) -> Iterator[Message]:
    """Doubt that a garment has no motif on which the reference lies."""
    if len(outline_mm) < 3:
        return
    middle, along = paper_mm.mean(axis=0), (np.arange(12.0)[:, None, None] + 0.5) / 12
    ring = middle + (paper_mm - middle) * _RING
    spots = (ring + along * (np.roll(ring, -1, axis=0) - ring)).reshape(-1, 2)
    if holds_square(outline_mm, spots, 0.0).mean() > _ON_GARMENT:
        yield make_message("reference-on-garment", kind=_NAMES[reference.kind])


def _overlap_mm2(one: Floats, other: Floats) -> float:
    """Return the area that two convex polygons share."""
    area, _ = cv2.intersectConvexConvex(one.astype(np.float32), other.astype(np.float32))
    return float(area)

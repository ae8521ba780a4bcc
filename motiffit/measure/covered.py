"""Edges of a card that something lies over, told by the borders within its marker.

What covers part of the card has an edge of its own, which passes for the marker's. The borders
within the marker lie on a lattice that says where its edges must be.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.edges import UNIT, Marks
from motiffit.measure.geometry import apply_homography, polygon_area

__all__ = ["Inside", "look_inside"]

Floats = NDArray[np.float64]

_ROUNDS = 6
_CAUCHY = 2.385  # robust sds: as good as least squares to 95 % where nothing is covered
_SDS = np.array([0.1, 0.1, 0.1, 0.03, 0.03, 0.03, 0.02])  # half sides: terms and bleed, beforehand
_ASTRAY = 0.01  # half sides: no flat card reached it, nor one curled twice as much as expected
_ASTRAY_SDS = 12.0  # most of a pixel: on a small card less cannot be told
_FEWEST = 3  # marks astray: one or two are threads and glints
_FARTHEST = 2.0  # half sides: a polynomial that leads beyond leads astray
_FAR = 2.0  # corners are carried beyond the borders: they may be off by so much more than a mark


@dataclass(frozen=True, slots=True, kw_only=True)
class Inside:
    """What the borders within a card's marker say.

    Attributes
    ----------
    corners_px
        (4, 2) full pixels: where they put the square's corners.
    astray
        (N,) which marks on the square's edges lie elsewhere than they say.
    is_covered
        Whether the edges as a whole lie elsewhere.
    """

    corners_px: Floats
    astray: NDArray[np.bool_]
    is_covered: bool


def look_inside(corners_px: Floats, marks: Marks) -> Inside:
    """Compare a card's edges with the borders within its marker.

    Parameters
    ----------
    corners_px
        (4, 2) full pixels, where the corners were thought to lie.
    marks
        Of a card, located about those corners.

    Notes
    -----
    In the frame of the corners as they were thought to lie, u and v are each a polynomial of second
    order, which takes in perspective and a card's curl, plus the bleed (see
    `motiffit.measure.edges.spread_corners`). It is fitted to the borders that were found; where
    those are few, as the corners were far off, it keeps near the identity.
    """
    unit = UNIT.astype(np.float32)
    lattice = np.asarray(cv2.getPerspectiveTransform(corners_px.astype(np.float32), unit), float)
    places = apply_homography(lattice, marks.points_px)
    outer = np.abs(marks.coordinate) == 1
    sd = marks.sd_px * 2 / np.sqrt(abs(polygon_area(corners_px)))
    shapes, stray = np.zeros((6, 2)), np.zeros(len(outer))
    for axis in (0, 1):
        own = marks.axis == axis
        design = np.column_stack([_terms(places[own]), -marks.toward_dark[own]])
        short = marks.coordinate[own] - places[own, axis]
        inner = ~outer[own]
        if not inner.any():
            continue
        found = _fit_robustly(design[inner], short[inner], sd[own][inner])
        shapes[:, axis] = found[:6]
        stray[own] = design @ found - short
    corners = UNIT
    for _ in range(_ROUNDS):  # by little: this ends where the polynomial gives the corners
        corners = np.clip(UNIT - _terms(corners) @ shapes, -_FARTHEST, _FARTHEST)
    back = np.asarray(np.linalg.inv(lattice), dtype=np.float64)
    worst = np.maximum(_ASTRAY, _ASTRAY_SDS * sd)
    astray = outer & (np.abs(stray) > worst)
    far = np.abs(corners - UNIT).max() > _FAR * worst.max()
    return Inside(
        corners_px=apply_homography(back, corners),
        astray=astray,
        is_covered=bool(far or astray.sum() >= _FEWEST),
    )


def _terms(places: Floats) -> Floats:
    """Return the six terms (N, 6) of second order of places (N, 2)."""
    u, v = places.T
    return np.stack([np.ones_like(u), u, v, u * u, u * v, v * v], axis=1)


def _fit_robustly(design: Floats, known: Floats, sd: Floats) -> Floats:
    """Solve design @ found = known with Cauchy's weights, held by what is known beforehand."""
    weights = 1 / sd**2
    for _ in range(_ROUNDS):
        weighed = weights[:, None] * design
        found = np.linalg.solve(design.T @ weighed + np.diag(_SDS**-2), weighed.T @ known)
        rest = (known - design @ found) / sd
        scatter = max(1.4826 * float(np.median(np.abs(rest), axis=0)), 1.0)
        weights = 1 / (sd**2 * (scatter**2 + (rest / _CAUCHY) ** 2))
    return np.asarray(found)

"""Polygons in millimetres, for the photos of `scenes`: x to the right, y down."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Polygon = tuple[tuple[float, float], ...]

STEP_MM = 12.0  # outlines are cut into pieces this long: the lens bends one by < 0.005 px


def squared(points: Points) -> Points:
    """Squared distance from the origin, (N, 1)."""
    return np.asarray(np.einsum("ij,ij->i", points, points)[:, None])


def turned(points: Points, angle_deg: float) -> Points:
    """Turn points clockwise as seen (y points down)."""
    cos, sin = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    return np.asarray(points) @ np.array([[cos, sin], [-sin, cos]])


def box_corners(left: float, top: float, right: float, bottom: float) -> Points:
    """Corners of an upright box, clockwise from its top-left."""
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def square(side: float) -> Points:
    """Corners of a square about the origin, clockwise from its top-left."""
    return box_corners(-side / 2, -side / 2, side / 2, side / 2)


def densified(polygon: Sequence[tuple[float, float]] | Points) -> Points:
    """Add points along a closed polygon's sides; its corners stay."""
    corners = np.asarray(polygon, dtype=float)
    pieces = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = max(1, int(np.ceil(np.linalg.norm(end - start) / STEP_MM)))
        pieces.append(start + np.arange(count)[:, None] / count * (end - start))
    return np.concatenate(pieces)


def as_polygon(points: Points) -> Polygon:
    """Freeze points."""
    return tuple((float(x), float(y)) for x, y in points)


def shirt(width_mm: float = 250.0, length_mm: float = 300.0) -> Polygon:
    """Outline of a small short-sleeved shirt about its middle."""
    half, top, bottom = width_mm / 2, -length_mm / 2, length_mm / 2
    right = [
        (0.24 * half, top),
        (0.55 * half, top + 12),
        (1.35 * half, top + 78),
        (1.12 * half, top + 118),
        (0.78 * half, top + 92),
        (0.82 * half, 0.3 * bottom),
        (0.86 * half, bottom),
    ]
    neck = [(-0.14 * half, top + 22), (0.0, top + 28), (0.14 * half, top + 22)]
    left = [(-x, y) for x, y in reversed(right)]
    return (*right, *left, *neck)


def blob(
    rng: np.random.Generator,
    width_mm: float,
    height_mm: float,
    centre: tuple[float, float] = (0, 0),
) -> Polygon:
    """A smooth random shape with exactly this tight box about a centre."""
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    radius = 1 + sum(
        rng.normal(0, 0.25 / order) * np.cos(order * angle + rng.uniform(0, 6.3))
        for order in (2, 3, 4, 5)
    )
    radius = np.clip(radius, 0.35, None)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    points -= (points.min(axis=0) + points.max(axis=0)) / 2
    points *= np.array([width_mm, height_mm]) / np.ptp(points, axis=0)
    return as_polygon(points + centre)


def stripes(outline: Polygon, pitch_mm: float) -> tuple[Polygon, ...]:
    """Level stripes over the whole of an outline."""
    points = np.array(outline)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return tuple(
        as_polygon(box_corners(left, y, right, y + pitch_mm / 2))
        for y in np.arange(top, bottom, pitch_mm)
    )


def scattered(
    rng: np.random.Generator, outline: Polygon, pitch_mm: float, size_mm: float
) -> tuple[Polygon, ...]:
    """Small shapes in a staggered grid over the whole of an outline: an all-over print."""
    points = np.array(outline)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    rows = np.arange(top + pitch_mm / 3, bottom, pitch_mm)
    return tuple(
        blob(rng, size_mm, size_mm, (float(x), float(y)))
        for number, y in enumerate(rows)
        for x in np.arange(left + pitch_mm * (0.3 + 0.5 * (number % 2)), right, pitch_mm)
    )

"""Flat views drawn from known truth: a garment on a floor, seen from straight above.

Outlines are drawn four times finer and averaged down, so a border lies where its polygon says to
about 0.1 px. Sizes are odd and corners lie between pixels on purpose.
"""

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from motiffit.measure.flatview import FlatView

Points = NDArray[np.float64]

# a shirt in its own upright frame, mm, clockwise from the left of its neck; mirrors in x = 0
SHIRT = np.array(
    [[-42.3, -170.4], [-28.1, -158.2], [28.1, -158.2], [42.3, -170.4], [98.6, -151.7],
     [158.2, -82.9], [119.4, -52.3], [92.7, -81.1], [96.3, 161.8], [-96.3, 161.8],
     [-92.7, -81.1], [-119.4, -52.3], [-158.2, -82.9], [-98.6, -151.7]]
)  # fmt: skip


def turned(points: ArrayLike, turn_deg: float, middle_mm: tuple[float, float]) -> Points:
    """Place points of the garment's frame: turned clockwise by an angle, then moved."""
    angle = np.deg2rad(turn_deg)
    axes = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.asarray(points, float) @ axes.T + middle_mm


def make_flat(
    paints: Sequence[tuple[ArrayLike, tuple[int, int, int]]],
    *,
    floor: tuple[int, int, int] = (171, 139, 104),
    boards_mm: float = 83.0,
    size_mm: tuple[float, float] = (613.0, 557.0),
    mm_per_px: float = 1.0,
    card_mm: tuple[float, float] = (-230.0, 190.0),
    noise: float = 3.0,
) -> FlatView:
    """Draw polygons (mm, colour), later ones on top, on a floor of boards; the card last."""
    width, height = (round(side / mm_per_px) for side in size_mm)
    origin = np.array([-size_mm[0] / 2, -size_mm[1] / 2])
    picture = np.empty((height, width, 3), np.float32)
    picture[:] = floor
    picture *= 1 + 0.05 * np.sign(np.sin(np.arange(width) * mm_per_px * np.pi / boards_mm))[:, None]
    card = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * 38.1
    white, black = (turned(card * k, 7.0, card_mm) for k in (1.25, 1.0))
    for polygon, colour in (*paints, (white, (236, 235, 231)), (black, (34, 33, 35))):
        share = _share((np.asarray(polygon, float) - origin) / mm_per_px, (height, width))
        picture += share[..., None] * (np.array(colour, np.float32) - picture)
    rng = np.random.default_rng(5)
    picture += rng.normal(0, noise, picture.shape)
    return FlatView(
        picture=np.clip(picture, 0, 255).astype(np.uint8),
        mm_per_px=mm_per_px,
        origin_mm=origin,
        valid=np.ones((height, width), bool),
        reference_mm=black,
    )


def _share(points_px: Points, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Share of each pixel inside a polygon."""
    drawn = np.zeros((shape[0] * 4, shape[1] * 4), np.uint8)
    fine = np.round(((points_px + 0.5) * 4 - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(drawn, [fine], 255, shift=4)
    small = cv2.resize(drawn, shape[::-1], interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32) / 255

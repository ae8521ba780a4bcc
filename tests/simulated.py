"""Marks of a card as an ideal edge finder would see them: geometry without pixels."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import cv2
import numpy as np
from camera import Camera
from numpy.typing import NDArray
from shapes import square, turned

from motiffit.measure.edges import Marks
from motiffit.measure.photo import Photo
from motiffit.measure.reference import FoundReference

Points = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Sight:
    """A card or square on the table, as seen through a camera.

    ``bend_mm`` are the heights of the paper over the table as multiples of u, v, u^2, uv and v^2,
    with u and v from -1 to 1 across it. ``bleed_px`` is how far bright parts spread over dark ones,
    ``principal_px`` where the lens's axis meets the photo, from its middle.
    """

    camera: Camera = field(default_factory=Camera)
    kind: Literal["card", "square"] = "card"
    side_mm: float = 101.6
    stated_mm: float | None = None
    centre_mm: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 7.3
    bend_mm: tuple[float, ...] = (0.0,) * 5
    bleed_px: tuple[float, float] = (0.3, 0.3)
    principal_px: tuple[float, float] = (0.0, 0.0)
    sd_px: float = 0.07

    def project(self, points_mm: Points, height_mm: float | Points = 0.0) -> Points:
        """Map points of the table, raised by a height, to the photo."""
        return self.camera.project(points_mm, height_mm) + np.array(self.principal_px)

    def _lift(self, uv: Points) -> Points:
        u, v = uv.T
        return np.column_stack([u, v, u * u, u * v, v * v]) @ np.array(self.bend_mm)

    def _see(self, uv: Points, lift: Points) -> Points:
        return self.project(turned(uv * self.side_mm / 2, self.turn_deg) + self.centre_mm, lift)

    def found(self, rng: np.random.Generator | None = None) -> FoundReference:
        """What `find_reference` would return; with noise of ``sd_px`` if a generator is given."""
        uv, axis, dark = card_borders() if self.kind == "card" else outline()
        row = np.arange(len(uv))
        shifted = uv.copy()
        px_per_half = self.camera.focal_px / self.camera.distance_mm * self.side_mm / 2
        shifted[row, axis] += np.array(self.bleed_px)[axis] * dark / px_per_half
        points = self._see(shifted, self._lift(uv))
        if rng is not None:
            points = points + rng.normal(0, self.sd_px, points.shape)
        corners = square(2.0)
        return FoundReference(
            kind=self.kind,
            side_mm=self.stated_mm or self.side_mm,
            corners_px=self._see(corners, self._lift(corners)),
            marks=Marks(
                points_px=points,
                axis=axis,
                coordinate=uv[row, axis],
                toward_dark=dark,
                sd_px=np.full(len(uv), self.sd_px),
            ),
            messages=(),
        )

    def photo(self, focal_35mm: float | None = 26.0) -> Photo:
        """The photo that goes with it; nothing looks at its pixels."""
        return Photo(
            path=Path("simulated.jpg"),
            width_px=self.camera.width_px,
            height_px=self.camera.height_px,
            picture=np.zeros((3, 4, 3), np.uint8),
            full_per_px=1.0,
            focal_35mm=focal_35mm,
            content_hash="0",
        )


def card_borders() -> tuple[Points, NDArray[np.int64], Points]:
    """Borders between the modules of marker 364: middles (u, v), known axis, darker side."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    white = np.pad(np.asarray(cv2.aruco.generateImageMarker(family, 364, 8)) > 127, 1, "maximum")
    white[0], white[-1], white[:, 0], white[:, -1] = True, True, True, True
    found = []
    for row in range(1, 9):
        for line in range(9):
            free, known = (2 * row - 9) / 8, line / 4 - 1
            if white[row, line] != white[row, line + 1]:
                found.append((known, free, 0, 1.0 if white[row, line] else -1.0))
            if white[line, row] != white[line + 1, row]:
                found.append((free, known, 1, 1.0 if white[line, row] else -1.0))
    table = np.array(found)
    return table[:, :2], table[:, 2].astype(np.int64), table[:, 3]


def outline() -> tuple[Points, NDArray[np.int64], Points]:
    """Twelve places on each edge of a bright square."""
    t = np.linspace(-0.95, 0.95, 12)
    sides = [(t, -1), (1, t), (t, 1), (-1, t)]
    uv = np.concatenate([np.column_stack(np.broadcast_arrays(*side)) for side in sides])
    axis = np.repeat([1, 0, 1, 0], 12)
    return uv, axis, uv[np.arange(48), axis].copy()

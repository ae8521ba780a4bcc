"""The camera of `scenes`: a pinhole with one radial distortion term above a table."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from shapes import Points, squared

DIAGONAL_35MM = 43.27  # mm, of the 36 x 24 frame that "35 mm equivalent" refers to


@dataclass(frozen=True, kw_only=True)
class Camera:
    """A pinhole with one radial distortion term: r focal lengths are seen at r (1 + k r^2).

    ``tilt_deg`` is the angle between the axis and the table's normal; ``azimuth_deg`` is where the
    camera stands as seen from the point aimed at (0: to the right, 90: towards the bottom).
    ``axis_px`` is how far from the photo's middle the lens's axis meets it.
    """

    width_px: int = 1613
    height_px: int = 1209
    focal_35mm: float = 26.0
    tilt_deg: float = 0.0
    azimuth_deg: float = 90.0
    distance_mm: float = 620.0
    aim_mm: tuple[float, float] = (0.0, 0.0)
    distortion: float = 0.0
    axis_px: tuple[float, float] = (0.0, 0.0)

    @property
    def focal_px(self) -> float:
        return self.focal_35mm / DIAGONAL_35MM * float(np.hypot(self.width_px, self.height_px))

    @property
    def middle_px(self) -> Points:
        return np.asarray(np.array([self.width_px - 1, self.height_px - 1]) / 2)

    @cached_property
    def position_mm(self) -> Points:
        """Where the lens is: x, y, z, with z pointing into the table."""
        tilt, azimuth = np.deg2rad([self.tilt_deg, self.azimuth_deg])
        away = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth)])
        return np.array(
            [*(np.array(self.aim_mm) + away * self.distance_mm), -np.cos(tilt) * self.distance_mm]
        )

    @cached_property
    def rotation(self) -> Points:
        """Rows: the camera's right, down and forward in the table's frame."""
        forward = np.array([*self.aim_mm, 0.0]) - self.position_mm
        forward /= np.linalg.norm(forward)
        right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(forward, right), forward])

    def project(self, points_mm: Points, height_mm: float | Points = 0.0) -> Points:
        """Map points of the table, raised by a height, to the photo."""
        points = np.atleast_2d(np.asarray(points_mm, dtype=float))
        heights = np.broadcast_to(height_mm, len(points))
        seen = (np.column_stack([points, -heights]) - self.position_mm) @ self.rotation.T
        if (seen[:, 2] <= 0).any():
            raise ValueError("a point lies behind the camera")
        flat = seen[:, :2] / seen[:, 2:] + np.array(self.axis_px) / self.focal_px
        bent = flat * (1 + self.distortion * squared(flat))
        return np.asarray(bent * self.focal_px + self.middle_px)

    def unproject(self, points_px: Points, height_mm: float | Points = 0.0) -> Points:
        """Map points of the photo to the plane at a height above the table."""
        bent = (np.atleast_2d(np.asarray(points_px, dtype=float)) - self.middle_px) / self.focal_px
        flat = bent
        for _ in range(6):  # a fixed point; each step gains a factor of about 2 k r^2 < 0.03
            flat = bent / (1 + self.distortion * squared(flat))
        flat = flat - np.array(self.axis_px) / self.focal_px
        rays = np.column_stack([flat, np.ones(len(flat))]) @ self.rotation
        reach = (-np.broadcast_to(height_mm, len(flat)) - self.position_mm[2]) / rays[:, 2]
        return np.asarray(self.position_mm[:2] + reach[:, None] * rays[:, :2])

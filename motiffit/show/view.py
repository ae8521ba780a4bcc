"""How the pixels of the full photo land in the decoded picture and in the drawing."""

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.record import Point
from motiffit.show.strokes import Canvas

__all__ = ["PHOTO_PX", "View"]

PHOTO_PX = 1200
"""Longer side of the photo in the drawing; with the panel the whole is about 1600 wide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """Scales between the full photo, the decoded picture and the drawing.

    Attributes
    ----------
    full_per_px
        Pixels of the full photo per pixel of the decoded picture.
    drawn_per_px
        Pixels of the drawing per pixel of the decoded picture.
    """

    full_per_px: float
    drawn_per_px: float

    @classmethod
    def of(cls, picture: NDArray[np.uint8], full_per_px: float) -> "View":
        """Fit the picture's longer side to PHOTO_PX."""
        return cls(full_per_px=full_per_px, drawn_per_px=PHOTO_PX / max(picture.shape[:2]))

    def resize(self, picture: NDArray[np.uint8]) -> Canvas:
        """Return the picture at the drawing's size."""
        height, width = (max(round(side * self.drawn_per_px), 1) for side in picture.shape[:2])
        way = cv2.INTER_AREA if self.drawn_per_px < 1 else cv2.INTER_CUBIC
        return np.array(cv2.resize(picture, (width, height), interpolation=way), dtype=np.uint8)

    def to_decoded(self, points_px: Sequence[Point]) -> NDArray[np.float64]:
        """Map full-photo pixels to the decoded picture's; both count from pixel centres."""
        return (np.asarray(points_px, dtype=np.float64) + 0.5) / self.full_per_px - 0.5

    def to_drawn(self, points_px: Sequence[Point]) -> NDArray[np.float64]:
        """Map full-photo pixels to the drawing's."""
        return (self.to_decoded(points_px) + 0.5) * self.drawn_per_px - 0.5

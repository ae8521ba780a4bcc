"""Square views of the flat view, turned and scaled as the finder's net wants to see them."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from motiffit.measure.flatview import FlatView
from motiffit.record import Point

__all__ = ["View", "axes_of", "take_view"]

_FINE = 1.3
"""A view is taken from the photo anew where its pixels are not this much coarser than the flat
view's: it would only show those blurred."""

_CARD_MARGIN = 1.3
"""Side of what is hidden about the reference square, against its own: a card has a white margin
of one module, 1.25 in all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class View:
    """A square on the cloth.

    Attributes
    ----------
    centre_mm
        Its middle.
    side_mm
        Its side.
    turn_deg
        How far its up lies clockwise from the mm frame's.
    px
        Pixels along its side; the net wants a multiple of 32.
    """

    centre_mm: Point
    side_mm: float
    turn_deg: float
    px: int

    @property
    def mm_per_px(self) -> float:
        """Scale of the view."""
        return self.side_mm / self.px

    def to_mm(self, points_px: ArrayLike) -> NDArray[np.float64]:
        """Return mm (N, 2) for points (N, 2) of the view; (0, 0) is its top-left corner."""
        points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2) / self.px - 0.5
        return np.asarray(self.centre_mm + self.side_mm * points @ axes_of(self.turn_deg).T)

    def corners_mm(self) -> NDArray[np.float64]:
        """Return the view's corners (4, 2) in mm, clockwise from its top-left."""
        return self.to_mm([[0, 0], [self.px, 0], [self.px, self.px], [0, self.px]])

    def to_px(self, points_mm: ArrayLike) -> NDArray[np.float64]:
        """Return points (N, 2) of the view for mm (N, 2)."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2) - self.centre_mm
        return np.asarray((points @ axes_of(self.turn_deg) / self.side_mm + 0.5) * self.px)


def axes_of(turn_deg: float) -> NDArray[np.float64]:
    """Return right and down of a frame turned clockwise as the columns of a (2, 2) matrix."""
    angle = np.deg2rad(turn_deg)
    return np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])


def take_view(flat: FlatView, view: View) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """Cut a view out of the flat view.

    Returns
    -------
    picture : uint8 (px, px, 3)
        RGB.
    hidden : bool (px, px)
        Where the photo shows nothing, and where the reference square lies.
    """
    if view.mm_per_px < _FINE * flat.mm_per_px:
        flat = flat.near(view.corners_mm(), mm_per_px=view.mm_per_px)
    rows, columns = _window(flat, view)
    picture, valid = flat.picture[rows, columns], flat.valid[rows, columns].view(np.uint8)
    whole = np.array(picture.shape[1::-1])
    ratio = view.mm_per_px / flat.mm_per_px
    if ratio > 1.2:  # average down first: the warp alone would alias the weave
        size = tuple(max(2, round(side / ratio)) for side in picture.shape[1::-1])
        picture = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
        valid = np.asarray(cv2.resize(valid, size, interpolation=cv2.INTER_NEAREST), np.uint8)
    corners = view.to_mm([[0.5, 0.5], [1.5, 0.5], [0.5, 1.5]])
    shift, scale = (columns.start, rows.start), np.array(picture.shape[1::-1]) / whole
    places = (flat.to_flat(corners) - shift + 0.5) * scale - 0.5
    matrix = np.column_stack([places[1] - places[0], places[2] - places[0], places[0]])
    size = (view.px, view.px)
    shown = cv2.warpAffine(picture, matrix, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
    inside = cv2.warpAffine(valid, matrix, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP)
    return np.asarray(shown, np.uint8), (inside == 0) | _card(flat, view)


def _window(flat: FlatView, view: View) -> tuple[slice, slice]:
    """Return the rows and columns of the flat view that a view touches."""
    places = flat.to_flat(view.corners_mm())
    height, width = flat.valid.shape
    x0, y0 = np.floor(places.min(axis=0)).astype(int) - 2
    x1, y1 = np.ceil(places.max(axis=0)).astype(int) + 3
    x0, y0 = min(max(x0, 0), width - 2), min(max(y0, 0), height - 2)
    return slice(y0, max(min(y1, height), y0 + 2)), slice(x0, max(min(x1, width), x0 + 2))


def _card(flat: FlatView, view: View) -> NDArray[np.bool_]:
    """Return where the reference square with its margin lies in a view."""
    middle = flat.reference_mm.mean(axis=0)
    corners = view.to_px(middle + (flat.reference_mm - middle) * _CARD_MARGIN)
    corners = corners - 0.5
    drawn = np.zeros((view.px, view.px), np.uint8)
    cv2.fillConvexPoly(drawn, np.round(corners * 16).astype(np.int32), 1, shift=4)
    return drawn.astype(bool)

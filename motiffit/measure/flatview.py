"""The flat view: the photo as if taken from straight above, with a fixed scale."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from motiffit.measure.photo import Photo
from motiffit.measure.plane import Plane

__all__ = ["FlatView", "rectify"]

Floats = NDArray[np.float64]

_FINEST_MM, _COARSEST_MM = 0.5, 2.0  # per pixel
_WHOLE_MM = 1.0  # per pixel of the whole, about: the garment's border shows no better in less
_REACH_MM = 600.0  # to each side of the middle; garments and card of one photo span less
_WHOLE_STEPS = 2.0  # from this ratio on in whole steps, which is quick; the map does the rest
_GRID_PX = 16  # the map is smooth: its values in between are interpolated, to 0.05 px
_RIM_PX = 3  # kept round the part of the photo that is looked at, to interpolate from


@dataclass(frozen=True, slots=True, kw_only=True)
class FlatView:
    """A picture of the cloth's plane; pixel (column, row) shows origin + mm_per_px (column, row).

    Attributes
    ----------
    picture
        uint8 (h, w, 3), RGB, read-only.
    mm_per_px
        Scale.
    origin_mm
        (2,) where the centre of pixel (0, 0) lies.
    valid
        bool (h, w): inside the photo; read-only.
    reference_mm
        (4, 2) corners of the reference square, without a card's white margin.
    source
        The photo and its plane, to look closer; None where there is none.
    """

    picture: NDArray[np.uint8]
    mm_per_px: float
    origin_mm: Floats
    valid: NDArray[np.bool_]
    reference_mm: Floats
    source: tuple[Photo, Plane] | None = None

    def to_mm(self, columns_rows: ArrayLike) -> Floats:
        """Return mm (N, 2) for points (N, 2) of the picture, as (column, row)."""
        points = np.asarray(columns_rows, dtype=np.float64).reshape(-1, 2)
        return np.asarray(self.origin_mm + self.mm_per_px * points)

    def to_flat(self, points_mm: ArrayLike) -> Floats:
        """Return (column, row) (N, 2) for points (N, 2) in mm."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        return np.asarray((points - self.origin_mm) / self.mm_per_px)

    def corners_mm(self) -> Floats:
        """Return the places (2, 2) of its first and its last pixel."""
        height, width = self.valid.shape
        return self.to_mm([[0, 0], [width - 1, height - 1]])

    def near(self, points_mm: ArrayLike, *, mm_per_px: float = 0.0) -> "FlatView":
        """Take the part that holds points (N, 2) anew from the photo, in finer pixels.

        It becomes as fine as asked for where the photo carries that, and never coarser than the
        whole. A view without a photo returns itself.
        """
        if self.source is None:
            return self
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        first, last = self.corners_mm()
        low, high = points.min(axis=0).clip(first, last), points.max(axis=0).clip(first, last)
        photo, plane = self.source
        native = _native_mm(photo, plane, plane.to_px((low + high) / 2))
        scale = float(np.clip(max(native, mm_per_px), _FINEST_MM, self.mm_per_px))
        return _flatten(photo, plane, (low, high), scale, scale / native)


def rectify(photo: Photo, plane: Plane) -> FlatView:
    """Resample the photo on the cloth's plane, square to its frame.

    A pixel of the whole shows a millimetre or so; `FlatView.near` shows a part as the photo does.
    """
    native = _native_mm(photo, plane, plane.middle_px)
    whole = native * max(1, round(_WHOLE_MM / native))  # whole pixels are averaged in no time
    scale = float(np.clip(whole, _FINEST_MM, _COARSEST_MM))
    return _flatten(photo, plane, _extent(photo, plane), scale, scale / native)


def _flatten(
    photo: Photo, plane: Plane, extent: tuple[Floats, Floats], mm_per_px: float, ratio: float
) -> FlatView:
    """Resample an extent (least and greatest x, y) from the photo reduced by a ratio."""
    low, high = extent
    columns, rows = (int(n) + 1 for n in np.ceil((high - low) / mm_per_px))
    box = _box(photo, plane, low, high, ratio)
    source = _shrink(photo.picture[box[1] : box[3], box[0] : box[2]], ratio)
    lookup, valid = _map(photo, plane, (box, source), low, mm_per_px, (rows, columns))
    picture = _remap(source, lookup)
    reference = plane.to_mm(plane.corners_px)
    for array in (picture, valid, low, reference):
        array.flags.writeable = False
    return FlatView(
        picture=picture,
        mm_per_px=mm_per_px,
        origin_mm=low,
        valid=valid,
        reference_mm=reference,
        source=(photo, plane),
    )


def _extent(photo: Photo, plane: Plane) -> tuple[Floats, Floats]:
    """Return the least and greatest (x, y) that the photo shows, within reach of its middle."""
    x, y = (np.linspace(-0.5, side - 0.5, 33) for side in (photo.width_px, photo.height_px))
    rim = np.concatenate(
        [np.column_stack([x, np.full(33, edge)]) for edge in y[[0, -1]]]
        + [np.column_stack([np.full(33, edge), y]) for edge in x[[0, -1]]]
    )
    middle = plane.to_mm(plane.middle_px)[0]
    seen = plane.to_mm(rim[plane.sees(rim)])
    low = np.maximum(seen.min(axis=0), middle - _REACH_MM)
    high = np.minimum(seen.max(axis=0), middle + _REACH_MM)
    if not plane.sees(rim).all():  # the horizon is in the photo
        low, high = middle - _REACH_MM, middle + _REACH_MM
    return low, high


def _native_mm(photo: Photo, plane: Plane, place_px: Floats) -> float:
    """Return the mm that one decoded pixel covers at a place (2,) or (1, 2) of the photo."""
    half = photo.full_per_px / 2
    square = place_px + half * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    places = plane.to_mm(square)
    across, down = places[2] - places[0], places[3] - places[1]
    return float(np.sqrt(abs(across[0] * down[1] - across[1] * down[0]) / 2))


def _box(
    photo: Photo, plane: Plane, low: Floats, high: Floats, ratio: float
) -> tuple[int, int, int, int]:
    """Return left, top, right and bottom of what shows an extent, in pixels of the picture."""
    height, width = photo.picture.shape[:2]
    share = np.linspace(0, 1, 9)[:, None]
    corners = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    rim = plane.to_px(corners + share[:, None] * (np.roll(corners, -1, axis=0) - corners))
    if not plane.sees(rim).all():  # partly beyond the horizon
        return 0, 0, width, height
    places, spare = photo.to_picture(rim), _RIM_PX * max(ratio, 1.0)
    first = np.floor(places.min(axis=0) - spare).clip(0, [width - 1, height - 1])
    last = np.ceil(places.max(axis=0) + spare + 1).clip(first + 1, [width, height])
    whole = _whole_steps(ratio)
    last = first + np.maximum((last - first) // whole * whole, 1)  # divides: averaging is quick
    return int(first[0]), int(first[1]), int(last[0]), int(last[1])


def _whole_steps(ratio: float) -> int:
    """Return how many pixels to average in a row; 1 where it is no whole number of them."""
    return round(ratio) if ratio >= _WHOLE_STEPS else 1


def _shrink(picture: NDArray[np.uint8], ratio: float) -> NDArray[np.uint8]:
    """Return a picture averaged down where the flat view is coarser than it."""
    if ratio < 1.15:
        return picture
    whole = _whole_steps(ratio)
    step = whole if whole > 1 else ratio
    size = tuple(max(1, round(side / step)) for side in picture.shape[1::-1])
    return np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)


def _map(
    photo: Photo,
    plane: Plane,
    source: tuple[tuple[int, int, int, int], NDArray[np.uint8]],
    origin_mm: Floats,
    mm_per_px: float,
    shape: tuple[int, int],
) -> tuple[NDArray[np.float32], NDArray[np.bool_]]:
    """Return where in the source each flat pixel is found, (h, w, 2) as (x, y), and if it is."""
    # nodes where resize takes the centres of coarse pixels to be, one more on each side
    rows, columns = (
        (np.arange(-1, -(-side // _GRID_PX) + 1) + 0.5) * _GRID_PX - 0.5 for side in shape
    )
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    at = photo.to_picture(plane.to_px(origin_mm + mm_per_px * grid)) + 0.5  # from the outer corner
    extent = np.array(photo.picture.shape[1::-1])
    inside = np.minimum(at, extent - at).min(axis=1)  # px to the photo's edge
    (left, top, right, bottom), picture = source
    step = np.array([right - left, bottom - top]) / picture.shape[1::-1]
    places = (at - [left, top]) / step - 0.5
    lattice = len(rows), len(columns)
    lookup = _interpolate(places.reshape(*lattice, 2), shape)
    return lookup, _interpolate(inside.reshape(lattice), shape) >= 0


def _interpolate(coarse: Floats, shape: tuple[int, int]) -> NDArray[np.float32]:
    """Return the values at every flat pixel, from those at the nodes."""
    size = (coarse.shape[1] * _GRID_PX, coarse.shape[0] * _GRID_PX)
    fine = cv2.resize(coarse.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    rows, columns = (slice(_GRID_PX, _GRID_PX + side) for side in shape)
    return np.asarray(fine[rows, columns], dtype=np.float32)


def _remap(source: NDArray[np.uint8], lookup: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Look the colours up, between pixels too; with a fourth channel it takes a third less time."""
    padded = cv2.cvtColor(source, cv2.COLOR_RGB2RGBA)
    found = cv2.remap(  # type: ignore[call-overload]  # the stubs forget that one map can hold both
        padded, lookup, None, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    )
    return np.asarray(cv2.cvtColor(found, cv2.COLOR_RGBA2RGB), dtype=np.uint8)

"""Coded cards: reading their markers, and recognising one that is cut off or unread."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.marker import MODULES_PER_SIDE
from motiffit.measure.geometry import apply_homography, cross_lines, polygon_area

__all__ = ["Card", "find_cards", "is_card_cut", "is_card_unread"]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
Grey = NDArray[np.uint8]

_SEARCH_PX = 1000  # longer side of the picture searched first; then twice and half of that
_RIM_PX = 4.0  # a corner this close to the photo's edge lies on it
_APART = 0.02  # of a side: by the detector's own eighth, a card's rim and its marker's are one
_LEAST_AREA_PX = 600.0
_LEAST_SHARE = 0.35  # of a cut marker that must be in view: fewer modules may agree by chance
_WRONG_MODULES = 2
_WRONG_IF_UNREAD = 7  # of 64: 72 of 77 cards with things on them; 90 plain squares were ten off
# Rows or columns side by side that may be covered, and how many modules beside them may be wrong:
# in none of 1,481 photos with a plain square where the card was
_COVERED_BANDS = ((2, 2), (3, 0))
_LEAST_WHITE = 5  # modules that agree outside it: without, a dark oblong is a marker half covered
_STRAY_PX = 2.5  # of an outline from its straight sides, in the picture searched first
_SIDE_PX = 24.0  # least side of a marker there
_SHORT_SHARE = 0.12  # of a whole side: of those next to it as much must show, a module
_LEAST_SINE = 0.9  # of the angles between them
_DEPTHS = (0.87, 1.0, 1.15)  # of a whole side: how far the marker may reach from it, seen askew
_LEAST_STEP = 20.0  # levels from the border to the white margin beside it


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """A marker that was read.

    Attributes
    ----------
    marker_id
        Its number in the family 36h11.
    corners
        (4, 2) pixels of the picture, good to a pixel, clockwise from the top left as seen.
    modules
        (8, 8), true where white, the first row along corners 0 and 1.
    """

    marker_id: int
    corners: Floats
    modules: Bools


def find_cards(grey: Grey) -> list[Card]:
    """Return the cards of the first search that shows any, and others in view.

    One search does not do: the detector overlooks now and then a marker that is plain to see. The
    first search is the quickest. Those that keep outlines apart which lie close together missed
    none of 1,481 cards, but take an inner outline for the marker's now and then.
    """
    usual = _usual_step(grey)
    others = (usual, _detector(windows=1, apart=_APART))
    searches = (
        (usual, _detector(windows=1)),
        (usual, _detector()),
        (usual, _detector(apart=_APART)),
        (usual / 2, _detector()),
        (2.0 * usual, _detector()),
    )
    for step, detector in searches:
        cards = _read_markers(grey, step, detector)
        if cards:
            return _without_doubles([*cards, *_read_markers(grey, *others)])
    return []


def _usual_step(grey: Grey) -> int:
    """Return by how much to reduce for the first search."""
    return max(1, round(int(max(grey.shape)) / _SEARCH_PX))


def _scaled(grey: Grey, step: float) -> Grey:
    """Return the picture at 1/step of its size; where it shrinks, each pixel is a mean."""
    whole_step = max(1, round(step))  # what does not divide is left off, so that places stay exact
    height, width = (side // whole_step * whole_step for side in grey.shape)
    size = (round(width / step), round(height / step))
    how = cv2.INTER_AREA if step > 1 else cv2.INTER_LINEAR
    return np.asarray(cv2.resize(grey[:height, :width], size, interpolation=how), np.uint8)


def _detector(*, windows: int = 3, apart: float | None = None) -> cv2.aruco.ArucoDetector:
    """Return a detector that thresholds with so many windows and keeps outlines so far apart."""
    how = cv2.aruco.DetectorParameters()
    how.errorCorrectionRate = 0.2  # one wrong bit of 36: cloth patterns must not pass for a card
    if windows == 1:
        how.adaptiveThreshWinSizeMin = how.adaptiveThreshWinSizeMax
    if apart is not None:
        how.minMarkerDistanceRate = apart
    return cv2.aruco.ArucoDetector(_family(), how)


def _family() -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)


def _modules(marker_id: int) -> Bools:
    """Return where a marker is white, (8, 8)."""
    image = cv2.aruco.generateImageMarker(_family(), marker_id, MODULES_PER_SIDE)
    return np.asarray(image) > 127


def _read_markers(grey: Grey, step: float, detector: cv2.aruco.ArucoDetector) -> list[Card]:
    """Return the cards that a detector shows in the picture at 1/step of its size."""
    quads, ids, _ = detector.detectMarkers(_scaled(grey, step))
    cards: list[Card] = []
    for marker_id, quad in zip([] if ids is None else np.ravel(ids), quads, strict=True):
        corners = (quad.reshape(4, 2).astype(np.float64) + 0.5) * step - 0.5
        first = int(np.argmin(corners.sum(axis=1)))
        cards.append(
            Card(
                marker_id=int(marker_id),
                corners=np.roll(corners, -first, axis=0),
                modules=np.rot90(_modules(int(marker_id)), first),
            )
        )
    return _without_doubles(cards)


def _without_doubles(cards: list[Card]) -> list[Card]:
    """Keep the outermost of outlines read as the same marker: others lie in its black rim."""
    kept: list[Card] = []
    for card in sorted(cards, key=lambda c: -polygon_area(c.corners)):
        middle = card.corners.mean(axis=0)
        doubles = (
            other.marker_id == card.marker_id
            and cv2.pointPolygonTest(other.corners.astype(np.float32), tuple(middle), False) > 0
            for other in kept
        )
        if not any(doubles):
            kept.append(card)
    return kept


def is_card_cut(grey: Grey) -> bool:
    """Tell whether a card is in view that one edge of the photo cuts straight through."""
    small = _scaled(grey, _usual_step(grey))
    return any(_is_cut_marker(small, part) for part in _dark_shapes(_dark_outlines(small)))


def is_card_unread(grey: Grey) -> bool:
    """Tell whether a card is in view whose marker is not read, as when something lies on it."""
    small = _scaled(grey, _usual_step(grey))
    outlines = list(_dark_outlines(small))
    whole = (part for part in _dark_shapes(outlines) if len(part) == 4)
    if any(_agrees_with_a_marker(small, part, _WRONG_IF_UNREAD) for part in whole):
        return True
    sides = (square for outline in outlines for square in _squares_on(outline))
    return any(_is_covered_marker(small, square) for square in sides)


def _dark_outlines(grey: Grey) -> Iterator[NDArray[np.int32]]:
    """Yield the outer outlines (N, 1, 2) of dark areas, those in holes of others with them."""
    window = 2 * (max(grey.shape) // 12) + 1  # wider than a module, so that black areas stay whole
    dark = cv2.adaptiveThreshold(
        grey, 255, cv2.ADAPTIVE_THRESH_MEAN_C, cv2.THRESH_BINARY_INV, window, 7
    )
    outlines, kin = cv2.findContours(dark, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    for outline, (_, _, _, parent) in zip(outlines, kin[0] if outlines else (), strict=True):
        if parent < 0:
            yield np.asarray(outline, np.int32)


def _dark_shapes(outlines: Iterable[NDArray[np.int32]]) -> Iterator[Floats]:
    """Yield the hulls (4 or 5, 2) of dark areas that have four or five corners, clockwise."""
    for outline in outlines:
        # white modules at a cut are bays in the outline: its hull is the marker's black frame
        hull = cv2.convexHull(outline)
        part = cv2.approxPolyDP(hull, 0.03 * cv2.arcLength(hull, True), True)
        if len(part) in (4, 5) and cv2.contourArea(part) > _LEAST_AREA_PX:
            corners = part.reshape(-1, 2).astype(np.float64)
            yield corners if polygon_area(corners) > 0 else corners[::-1]


def _is_cut_marker(grey: Grey, part: Floats) -> bool:
    """Tell whether a polygon (4 or 5, 2) that reaches the photo's edge is part of a marker."""
    far = np.array(grey.shape[::-1]) - 1
    near = np.abs(np.stack([part, part - far])) < _RIM_PX  # (low or high edge, corner, x or y)
    if len(part) == 4 and near.any(axis=(0, 2)).sum() == 1:  # no more than a tip is missing
        return _agrees_with_a_marker(grey, part)
    for first in range(len(part)):
        turned = np.roll(near, -first, axis=1)
        if turned[:, -2:].all(axis=1).any() and not turned[:, :-2].any():
            try:
                return _agrees_with_a_marker(grey, _completed(np.roll(part, -first, axis=0)))
            except ValueError:  # sides that never meet: no square
                return False
    return False


def _completed(part: Floats) -> Floats:
    """Return the whole square of a part whose last two corners are cuts.

    Of five corners, three are the square's, and its sides cross in the fourth. Of four, two are.
    """
    first, *_, last_cut = part
    if len(part) == 5:
        crossing = cross_lines(part[2], part[3] - part[2], first, last_cut - first)
        return np.array([*part[:3], crossing])
    a, b, c, d = part
    side = np.linalg.norm(b - a)
    after, before = (c - b) / np.linalg.norm(c - b), (d - a) / np.linalg.norm(d - a)
    return np.array([a, b, b + side * after, a + side * before])


def _squares_on(outline: NDArray[np.int32]) -> Iterator[Floats]:
    """Yield squares (4, 2) on each straight side of an outline between two right angles.

    Whatever covers a marker, be it a corner, a side or a strap across, it mostly leaves one side
    whole; what lies on the rest may widen the dark area, or part it.
    """
    if cv2.arcLength(outline, True) < 3 * _SIDE_PX:
        return
    shape = cv2.approxPolyDP(outline, _STRAY_PX, True).reshape(-1, 2).astype(np.float64)
    if len(shape) < 3:
        return
    shape = shape if polygon_area(shape) > 0 else shape[::-1]
    steps = np.roll(shape, -1, axis=0) - shape
    lengths = np.linalg.norm(steps, axis=1)
    along = steps / lengths[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]])
    before, after = -np.roll(along, 1, axis=0), np.roll(along, -1, axis=0)
    beside = np.minimum(np.roll(lengths, 1), np.roll(lengths, -1))
    sines = np.minimum((before * inward).sum(axis=1), (after * inward).sum(axis=1))
    fit = (lengths >= _SIDE_PX) & (beside >= _SHORT_SHARE * lengths) & (sines >= _LEAST_SINE)
    for i in np.flatnonzero(fit):
        start, end = shape[i], shape[(i + 1) % len(shape)]
        for depth in lengths[i] * np.array(_DEPTHS):
            yield np.array([start, end, end + depth * after[i], start + depth * before[i]])


def _is_covered_marker(grey: Grey, corners: Floats) -> bool:
    """Tell whether a square's first side is a marker's, and its modules but a band of them."""
    levels, in_view = _look_up(grey, corners, rows=range(-1, MODULES_PER_SIDE))
    if not in_view.all():
        return False
    rows = levels.reshape(-1, MODULES_PER_SIDE)
    margin, border = np.median(rows[0]), np.median(rows[1])
    white = rows > (margin + border) / 2
    if margin - border < _LEAST_STEP or (~white[0]).sum() > 1 or white[1].sum() > 1:
        return False
    turns = _all_turns()
    wrong, agreeing = turns != white[1:], turns & white[1:]
    return any(
        (
            (_count_beside(wrong, band, axis) <= most_wrong)
            & (_count_beside(agreeing, band, axis) >= _LEAST_WHITE)
        ).any()
        for band, most_wrong in _COVERED_BANDS
        for axis in (1, 2)
    )


def _count_beside(modules: Bools, band: int, axis: int) -> NDArray[np.intp]:
    """Count (N, places) those of (N, 8, 8) modules that lie outside a band, wherever it lies."""
    sums = np.cumsum(np.pad(modules.sum(axis=axis), ((0, 0), (1, 0))), axis=1)
    return np.asarray(sums[:, -1:] - (sums[:, band:] - sums[:, :-band]))


def _agrees_with_a_marker(grey: Grey, corners: Floats, most_wrong: int = _WRONG_MODULES) -> bool:
    """Tell whether the modules in view, but a few, are those of some marker in one of its turns."""
    levels, seen = _look_up(grey, corners, rows=range(MODULES_PER_SIDE))
    if seen.sum() < _LEAST_SHARE * MODULES_PER_SIDE**2:
        return False
    white = levels > (levels[seen].min() + levels[seen].max()) / 2
    wrong = (_all_turns().reshape(-1, len(seen))[:, seen] != white[seen]).sum(axis=1)
    return bool(wrong.min() <= most_wrong)


def _look_up(grey: Grey, corners: Floats, *, rows: range) -> tuple[Floats, Bools]:
    """Return levels (N,) in the middles of modules, row by row, and which of them are in view."""
    count = MODULES_PER_SIDE
    unit = np.array([[0, 0], [count, 0], [count, count], [0, count]], dtype=np.float32)
    lattice = np.asarray(cv2.getPerspectiveTransform(unit, corners.astype(np.float32)), np.float64)
    y, x = np.meshgrid(np.array(rows) + 0.5, np.arange(count) + 0.5, indexing="ij")
    at = apply_homography(lattice, np.column_stack([x.ravel(), y.ravel()])).round().astype(int)
    last = np.array(grey.shape[::-1]) - 1
    in_view = np.all((at >= 1) & (at < last), axis=1)
    shown = np.clip(at, 0, last)
    return grey[shown[:, 1], shown[:, 0]].astype(np.float64), in_view


def _all_turns() -> Bools:
    """Return where each marker of the family is white in each of its turns, (2348, 8, 8)."""
    known = np.array([_modules(i) for i in range(len(_family().bytesList))])
    return np.concatenate([np.rot90(known, turn, axes=(1, 2)) for turn in range(4)])

"""Plain squares of paper: finding them by their outline, and telling them from cloth."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.geometry import order_clockwise, polygon_area
from motiffit.measure.photo import Photo

__all__ = ["Colours", "find_squares", "split_colours"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

_SEARCH_PX = 800  # longer side of the picture searched
_THRESHOLDS = 14  # per channel
_AREA_SHARE = (0.002, 0.2)  # of the picture
_SMALLEST_PX = 24.0  # side, in the picture searched
_SAME_PX = 0.15  # squares whose corners agree to this share of the side are one
_ASPECT_TOLERANCE = 0.05  # of a square seen in perspective by a usual phone camera
_ANGLE_TOLERANCE = 0.05  # cosine
_USUAL_FOCAL = 0.6  # focal length over the diagonal: 26 mm over 43 mm
_LEAST_CONTRAST = 6.0  # Lab units between paper and what lies round it
_LEAST_EDGE = 0.85  # share of the outline along which it stands out
_DARK, _BRIGHT = 60.0, 195.0  # levels given to the two colours: room for texture on both sides
_CLEARLY_BEST = 2.0  # a square this many times as distinct as the next is the one


def find_squares(photo: Photo) -> list[Floats]:
    """Return the plain squares in view, corners (4, 2) in the picture, clockwise from top left.

    Several are returned only if none is clearly the best.
    """
    picture = photo.picture
    scale = min(1.0, _SEARCH_PX / max(picture.shape[:2]))
    size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    lab = cv2.cvtColor(small.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    bytes_lab = np.clip(lab + np.array([0, 128, 128]), 0, 255).astype(np.uint8)
    smooth = np.asarray(cv2.medianBlur(bytes_lab, 5), dtype=np.uint8)
    scored = []
    for corners in _candidates(smooth):
        score = _distinctness(smooth, corners) if _is_square(corners, size) else 0.0
        if score > 0:
            scored.append((score, corners))
    best = _distinct(sorted(scored, key=lambda pair: -pair[0]))
    if len(best) > 1 and best[0][0] > _CLEARLY_BEST * best[1][0]:
        best = best[:1]
    ratio = np.array(picture.shape[1::-1]) / np.array(size)
    return [(corners + 0.5) * ratio - 0.5 for _, corners in best]


def _candidates(lab: Bytes) -> list[Floats]:
    """Return convex quadrilaterals (4, 2) among the outlines at many thresholds of each channel."""
    area = lab.shape[0] * lab.shape[1]
    low, high = (share * area for share in _AREA_SHARE)
    found = []
    for channel in cv2.split(lab):
        levels = np.unique(np.quantile(channel, np.linspace(0.02, 0.98, _THRESHOLDS)).round())
        top, bottom = float(channel.max()), float(channel.min())
        levels = np.union1d(levels, np.linspace(bottom, top, _THRESHOLDS).round())
        for level in levels:
            mask = (channel > level).astype(np.uint8)
            outlines, _ = cv2.findContours(mask, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
            for outline in outlines:
                if len(outline) < 4 or not low < cv2.contourArea(outline) < high:
                    continue
                quad = cv2.approxPolyDP(outline, 0.04 * cv2.arcLength(outline, True), True)
                if len(quad) != 4 or not cv2.isContourConvex(quad):
                    continue
                if cv2.contourArea(quad) > 1.08 * cv2.contourArea(outline):
                    continue
                found.append(order_clockwise(quad.reshape(4, 2).astype(np.float64)))
    return found


def _is_square(corners: Floats, size: tuple[int, int]) -> bool:
    """Tell whether a usual camera would see a square so.

    With the homography from the square, H = K (r1 r2 t): the first two columns, freed of the camera
    K, are of one length and at right angles.
    """
    sides = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    if sides.min() < _SMALLEST_PX or sides.max() > 2 * sides.min():
        return False
    focal = _USUAL_FOCAL * float(np.hypot(*size))
    rays = ((corners - (np.array(size) - 1) / 2) / focal).astype(np.float32)
    unit = np.array([[0, 0], [1, 0], [1, 1], [0, 1]], dtype=np.float32)
    first, second, _ = np.asarray(cv2.getPerspectiveTransform(unit, rays)).T
    lengths = np.linalg.norm(first), np.linalg.norm(second)
    aspect = abs(np.log(lengths[0] / lengths[1]))
    return bool(
        aspect < _ASPECT_TOLERANCE
        and abs(first @ second) < _ANGLE_TOLERANCE * lengths[0] * lengths[1]
    )


def _distinctness(lab: Bytes, corners: Floats) -> float:
    """Return how clearly a uniform patch stands out all along its outline; 0 if it does not."""
    inside = _band(lab, corners, 0.80, 0.90)
    outside = _band(lab, corners, 1.08, 1.16)
    core = np.concatenate([_band(lab, corners, share, share + 0.05) for share in (0.1, 0.4, 0.7)])
    colour = np.median(np.concatenate([inside, core]), axis=0)
    spread = float(np.percentile(np.linalg.norm(core - colour, axis=1), 90))
    apart = np.linalg.norm(outside - inside, axis=1)
    contrast = float(np.median(apart))
    clear = float(np.mean(apart > max(0.4 * contrast, _LEAST_CONTRAST / 2)))
    if contrast < _LEAST_CONTRAST or clear < _LEAST_EDGE or spread > 0.6 * contrast:
        return 0.0
    return contrast * clear / (1 + spread)


def _band(colours: Bytes, corners: Floats, low: float, high: float) -> Floats:
    """Return colours (n, 3) along the outline, scaled about its middle by low..high."""
    middle = corners.mean(axis=0)
    t = np.linspace(0.05, 0.95, 12)[:, None]
    line = np.concatenate(
        [a + t * (b - a) for a, b in zip(corners, np.roll(corners, -1, 0), strict=True)]
    )
    bands = []
    for share in np.linspace(low, high, 3):
        points = middle + share * (line - middle)
        x = np.clip(points[:, 0].round().astype(int), 0, colours.shape[1] - 1)
        y = np.clip(points[:, 1].round().astype(int), 0, colours.shape[0] - 1)
        bands.append(colours[y, x].astype(np.float64))
    return np.asarray(np.mean(bands, axis=0))


def _distinct(scored: list[tuple[float, Floats]]) -> list[tuple[float, Floats]]:
    """Keep the best of squares that lie on one another."""
    kept: list[tuple[float, Floats]] = []
    for score, corners in scored:
        side = np.sqrt(abs(polygon_area(corners)))
        if all(
            np.linalg.norm(corners.mean(axis=0) - other.mean(axis=0)) > 0.5 * side
            for _, other in kept
        ):
            kept.append((score, corners))
    return kept


@dataclass(frozen=True, slots=True, kw_only=True)
class Colours:
    """The picture reduced to what tells a square from its surroundings.

    Attributes
    ----------
    separated
        uint8 (h, w), dark in the square and bright round it, blank far away.
    dark_inside
        Whether the square is really the darker of the two.
    """

    separated: Bytes
    dark_inside: bool


def split_colours(picture: Bytes, corners: Floats) -> Colours:
    """Project the colours on the line from the square's colour to that round it."""
    inside = np.median(_band(picture, corners, 0.7, 0.85), axis=0)
    outside = np.median(_band(picture, corners, 1.06, 1.12), axis=0)
    way = outside - inside
    near = _near(picture.shape, corners)
    grey = ((picture[near] - inside) @ way) / max(float(way @ way), 1.0)
    separated = np.zeros(picture.shape[:2], dtype=np.uint8)
    separated[near] = np.clip(_DARK + (_BRIGHT - _DARK) * grey, 0, 255)
    return Colours(separated=separated, dark_inside=bool(way.sum() > 0))


def _near(shape: tuple[int, ...], corners: Floats) -> tuple[slice, slice]:
    """Return rows and columns of the square and a rim of a fifth of its extent."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    rim = 0.2 * (high - low)
    first = np.maximum(np.floor(low - rim), 0).astype(int)
    last = np.minimum(np.ceil(high + rim) + 1, shape[1::-1]).astype(int)
    return slice(first[1], last[1]), slice(first[0], last[0])

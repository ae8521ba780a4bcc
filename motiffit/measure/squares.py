"""Plain squares of paper: finding them by their outline, and telling them from cloth."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.geometry import cross_lines, order_clockwise, polygon_area
from motiffit.measure.photo import Photo

__all__ = ["Colours", "find_squares", "split_colours"]

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

_SEARCH_PX = 800  # longer side of the picture searched
_SEED_PX = 16  # between seeds: several lie on any square that is large enough
_TOLERANCES = (4, 7, 11, 16, 24, 34)  # 8-bit Lab units: from white on white to a crumpled note
_STRAY_PX = 6.0  # from the rough side; what is farther belongs to another
_FILLED = 0.9  # of the quadrilateral's area: straight sides, no bites
_AREA_SHARE = (0.002, 0.2)  # of the picture
_SMALLEST_PX = 24.0  # side, in the picture searched
_ASPECT_TOLERANCE = 0.05  # of a square seen in perspective by a usual phone camera
_ANGLE_TOLERANCE = 0.05  # cosine
_USUAL_FOCAL = 0.6  # focal length over the diagonal: 26 mm over 43 mm
_LEAST_CONTRAST = 6.0  # Lab units between paper and what lies round it
_LAB_UNITS = np.array([100 / 255, 1.0, 1.0])  # 8-bit L to 0..100
_CLEAR_SHARE = 0.15  # of the usual contrast; a square may lie half on cloth, half on the table
_LEAST_EDGE = 0.85  # share of the outline along which it stands out
_BRIGHT = 130.0  # level given to the usual colour round the square: leaves room for others
_CLEARLY_BEST = 2.0  # a square this many times as distinct as the next is the one


def find_squares(photo: Photo) -> list[Floats]:
    """Return the plain squares in view, corners (4, 2) in the picture, clockwise from top left.

    Several are returned only if none is clearly the best.
    """
    picture = photo.picture
    scale = min(1.0, _SEARCH_PX / max(picture.shape[:2]))
    size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    lab = np.asarray(cv2.medianBlur(cv2.cvtColor(small, cv2.COLOR_RGB2LAB), 5), dtype=np.uint8)
    scored = []
    for corners in _candidates(lab):
        score = _distinctness(lab, corners) if _is_square(corners, size) else 0.0
        if score > 0:
            scored.append((score, corners))
    best = _distinct(sorted(scored, key=lambda pair: -pair[0]))
    if len(best) > 1 and best[0][0] > _CLEARLY_BEST * best[1][0]:
        best = best[:1]
    ratio = np.array(picture.shape[1::-1]) / np.array(size)
    return [(corners + 0.5) * ratio - 0.5 for _, corners in best]


def _candidates(lab: Bytes) -> list[Floats]:
    """Return convex quadrilaterals (4, 2) among patches of one colour.

    Patches are grown from a grid of seeds, each as far as the colour stays within a tolerance of
    the seed's: a paper keeps its outline whatever it lies on, cloth and table side by side even.
    """
    height, width = lab.shape[:2]
    low, high = (share * height * width for share in _AREA_SHARE)
    found, label = [], 0
    for tolerance in _TOLERANCES:
        taken = np.zeros((height + 2, width + 2), dtype=np.uint8)
        for y in range(_SEED_PX // 2, height, _SEED_PX):
            for x in range(_SEED_PX // 2, width, _SEED_PX):
                if taken[y + 1, x + 1]:
                    continue
                label = label % 255 + 1
                how = 4 | cv2.FLOODFILL_MASK_ONLY | cv2.FLOODFILL_FIXED_RANGE | (label << 8)
                spread = (tolerance,) * 3
                area, _, _, (left, top, wide, tall) = cv2.floodFill(
                    lab, taken, (x, y), 0, spread, spread, how
                )
                if low < area < high:
                    patch = taken[top : top + tall + 2, left : left + wide + 2] == label
                    quad = _quadrilateral(patch.astype(np.uint8))
                    found += [] if quad is None else [quad + np.array([left - 1, top - 1])]
    return found


def _quadrilateral(patch: Bytes) -> Floats | None:
    """Return the four corners (4, 2) of a patch, clockwise, if that is what its outline has."""
    outlines, _ = cv2.findContours(patch, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    outline = max(outlines, key=len)
    quad = cv2.approxPolyDP(outline, 0.04 * cv2.arcLength(outline, True), True)
    area = cv2.contourArea(outline)
    if len(quad) != 4 or not cv2.isContourConvex(quad):
        return None
    if not _FILLED * cv2.contourArea(quad) < area < cv2.contourArea(quad) / _FILLED:
        return None
    rough = order_clockwise(quad.reshape(4, 2).astype(np.float64))
    return _sharpen(rough, outline.reshape(-1, 2).astype(np.float64))


def _sharpen(corners: Floats, outline: Floats) -> Floats | None:
    """Return the corners where lines through the outline's four sides cross."""
    lines = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (end - start) / np.linalg.norm(end - start)
        share = (outline - start) @ along / np.linalg.norm(end - start)
        beside = np.abs((outline - start) @ np.array([-along[1], along[0]]))
        side = outline[(share > 0.08) & (share < 0.92) & (beside < _STRAY_PX)]
        if len(side) < 8:
            return None
        x, y, at_x, at_y = np.ravel(
            cv2.fitLine(side.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01)
        )
        lines.append((np.array([at_x, at_y]), np.array([x, y])))
    try:
        return np.array([cross_lines(*lines[i - 1], *lines[i]) for i in range(4)])
    except ValueError:
        return None


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
    inside, outside, *core = (
        _band(lab, corners, low, low + 0.08) * _LAB_UNITS for low in (0.80, 1.08, 0.1, 0.4, 0.7)
    )
    colour = np.median(np.concatenate([inside, *core]), axis=0)
    spread = float(np.percentile(np.linalg.norm(np.concatenate(core) - colour, axis=1), 90))
    apart = np.linalg.norm(outside - inside, axis=1)
    contrast = float(np.median(apart))
    clear = float(np.mean(apart > max(_CLEAR_SHARE * contrast, _LEAST_CONTRAST / 2)))
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
    """Return how far colours are from the square's.

    Where an edge mixes two colours in a pixel, that distance is in proportion to the mixture.
    """
    inside = np.median(_band(picture, corners, 0.7, 0.85), axis=0)
    outside = _band(picture, corners, 1.06, 1.12)
    usual = float(np.median(np.linalg.norm(outside - inside, axis=1)))
    near = _near(picture.shape, corners)
    apart = np.linalg.norm(picture[near] - inside, axis=-1)
    separated = np.zeros(picture.shape[:2], dtype=np.uint8)
    separated[near] = np.clip(apart * (_BRIGHT / max(usual, 1.0)), 0, 255)
    dark_inside = float(np.mean(outside - inside)) > 0
    return Colours(separated=separated, dark_inside=dark_inside)


def _near(shape: tuple[int, ...], corners: Floats) -> tuple[slice, slice]:
    """Return rows and columns of the square and a rim of a fifth of its extent."""
    low, high = corners.min(axis=0), corners.max(axis=0)
    rim = 0.2 * (high - low)
    first = np.maximum(np.floor(low - rim), 0).astype(int)
    last = np.minimum(np.ceil(high + rim) + 1, shape[1::-1]).astype(int)
    return slice(first[1], last[1]), slice(first[0], last[0])

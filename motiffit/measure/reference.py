"""Finding the reference square and its four edges to a fraction of a pixel."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.marker import MODULES_PER_SIDE, side_mm_of
from motiffit.measure.geometry import apply_homography, cross_lines
from motiffit.measure.photo import Photo
from motiffit.record import Message, Reference, make_message
from motiffit.settings import Settings

__all__ = ["FoundReference", "Marks", "find_reference"]

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

_LEAST_SIDE_PX = 24.0  # three pixels per module of the marker: below, its code cannot be read
_SMALL_SIDE_PX = 80.0  # below, the edges alone leave over 1 % at two sides' distance (domain notes)


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Places on the square's edges, and for a card on those between its black and white modules.

    In the square's own frame u runs from corner 0 to corner 1 and v from corner 0 to corner 3, both
    from -1 to 1. Each mark lies on a line of known u (axis 0) or known v (axis 1). All arrays are
    read-only.

    Attributes
    ----------
    points_px
        (N, 2) full pixels.
    axis
        (N,) 0 or 1: which coordinate is known.
    coordinate
        (N,) its value.
    toward_dark
        (N,) 1 where it gets darker along that axis, -1 where it gets brighter.
    sd_px
        (N,) one standard deviation across the edge.
    """

    points_px: Floats
    axis: NDArray[np.int64]
    coordinate: Floats
    toward_dark: Floats
    sd_px: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundReference:
    """The reference square in the photo.

    Attributes
    ----------
    kind : {'card', 'square'}
        A coded card, or a plain square of known side.
    side_mm
        The side of the square.
    corners_px
        (4, 2) full pixels, clockwise from the top left, read-only.
    marks
        What the plane is solved from.
    messages
        What to look at.
    """

    kind: Literal["card", "square"]
    side_mm: float
    corners_px: Floats
    marks: Marks
    messages: tuple[Message, ...]

    def digest(self) -> Reference:
        """Return what the record keeps."""
        corners = tuple((float(x), float(y)) for x, y in self.corners_px)
        return Reference(kind=self.kind, side_mm=self.side_mm, corners_px=corners)


def find_reference(photo: Photo, settings: Settings) -> FoundReference:
    """Find the coded card or, when a side is given, a plain square.

    Raises
    ------
    Refusal
        If none or several are found, or it cannot be measured from.
    """
    grey = cv2.cvtColor(photo.picture, cv2.COLOR_RGB2GRAY)
    cards = _find_cards(grey)
    if len(cards) > 1:
        raise Refusal("reference-several", count=len(cards))
    if not cards:
        raise Refusal("no-reference")
    marker_id, corners, modules = cards[0]
    side_mm = settings.side_mm or side_mm_of(marker_id)
    if side_mm is None:
        raise Refusal("reference-unknown-side", marker_id=marker_id)
    return _measure_square(photo, grey, corners, modules, side_mm=float(side_mm))


_LEVELS_PX = (1000, 2000, 600)  # longer side of the pictures searched, the most fruitful first
_Card = tuple[int, Floats, NDArray[np.bool_]]  # id, corners (4, 2), white modules (8, 8)


def _find_cards(grey: Grey) -> list[_Card]:
    """Return the cards at the first scale that shows any."""
    longer = max(grey.shape)
    seen: set[float] = set()
    for level in _LEVELS_PX:
        scale = min(1.0, level / longer)
        if scale in seen:
            continue
        seen.add(scale)
        size = (round(grey.shape[1] * scale), round(grey.shape[0] * scale))
        smaller = grey if scale == 1 else cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
        found = _detect_markers(smaller)
        if found:
            ratio = np.array(grey.shape[::-1]) / np.array(size)
            return [(name, (at + 0.5) * ratio - 0.5, modules) for name, at, modules in found]
    return []


def _detect_markers(grey: Grey) -> list[_Card]:
    """Return the cards of one picture, corners clockwise from the top left."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    how = cv2.aruco.DetectorParameters()
    how.errorCorrectionRate = 0.2  # one wrong bit of 36: cloth patterns must not pass for a card
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    quads, ids, _ = cv2.aruco.ArucoDetector(family, how).detectMarkers(grey)
    cards = []
    for name, quad in zip([] if ids is None else np.ravel(ids).tolist(), quads, strict=True):
        corners = quad.reshape(4, 2).astype(np.float64)  # clockwise from the marker's own top left
        first = int(np.argmin(corners.sum(axis=1)))
        white = cv2.aruco.generateImageMarker(family, name, MODULES_PER_SIDE) > 127
        cards.append((name, np.roll(corners, -first, axis=0), np.rot90(white, first)))
    return cards


def _measure_square(
    photo: Photo,
    grey: Grey,
    corners: Floats,
    modules: NDArray[np.bool_],
    *,
    side_mm: float,
) -> FoundReference:
    """Fit the four edges and judge them."""
    rough_px = float(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1).min())
    least_px = rough_px * photo.full_per_px
    if least_px < _LEAST_SIDE_PX:
        raise Refusal("reference-too-small", side_px=least_px, least_px=_LEAST_SIDE_PX)
    reach = min(0.4 * rough_px / MODULES_PER_SIDE, 6.0)
    for _ in range(3):  # each time about the lines of the time before
        fits = [_fit_edge(grey, corners, i, reach) for i in range(4)]
        corners = _crossings(fits)
    messages = []
    hidden = 1 - min(fit.seen for fit in fits)
    if hidden > 0.5 or max(fit.scatter for fit in fits) > 1.0:
        raise Refusal("reference-unclear")
    if hidden > 0.1:
        messages.append(make_message("reference-glare", percent=100 * hidden))
    if least_px < _SMALL_SIDE_PX:
        messages.append(make_message("reference-small", side_px=least_px))
    marks = _locate_marks(photo, grey, corners, modules)
    full = photo.to_full(corners)
    full.flags.writeable = False
    return FoundReference(
        kind="card",
        side_mm=side_mm,
        corners_px=full,
        marks=marks,
        messages=tuple(messages),
    )


def _boundaries(modules: NDArray[np.bool_]) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Return the module borders where black meets white.

    Returns
    -------
    middles : (N, 2) as (u, v)
    axis : (N,) 0 where u is known
    toward_dark : (N,)
    """
    count = len(modules)
    framed = np.pad(modules, 1, constant_values=True).astype(np.int64)
    found = []
    for axis, grid in enumerate((framed, framed.T)):
        row, line = np.nonzero(np.diff(grid[1:-1], axis=1))
        known, free = 2 * line / count - 1, (2 * row + 1) / count - 1
        darker = (grid[row + 1, line] - grid[row + 1, line + 1]).astype(np.float64)
        pair = (known, free) if axis == 0 else (free, known)
        found.append((np.column_stack(pair), np.full(len(row), axis), darker))
    middles, axes, dark = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return middles, axes, dark


def _locate_marks(photo: Photo, grey: Grey, corners: Floats, modules: NDArray[np.bool_]) -> Marks:
    """Locate the borders between modules, all of them alike."""
    middles, axis, dark = _boundaries(modules)
    lattice = cv2.getPerspectiveTransform(_UNIT.astype(np.float32), corners.astype(np.float32))
    lattice = np.asarray(lattice, dtype=np.float64)
    known = np.eye(2)[axis]
    run = known[:, ::-1] / len(modules)  # half a module along the border
    at = apply_homography(lattice, middles)
    along = (
        apply_homography(lattice, middles + run) - apply_homography(lattice, middles - run)
    ) / 2
    across = apply_homography(lattice, middles + known / len(modules)) - at
    half = np.hypot(*along.T)[:, None]
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / half
    normal *= np.sign(np.sum(normal * across, axis=1) * -dark)[:, None]  # towards the bright
    reach = float(np.clip(0.8 * np.min(np.abs(np.sum(normal * across, axis=1))), 1.5, 6.0))
    steps = np.arange(-reach, reach + 0.25, 0.5)
    spots = np.linspace(-0.6, 0.6, 7)
    places = at[:, None] + spots[:, None] * along[:, None]
    offset = np.zeros(len(at))
    for _ in range(2):
        centred = places + (offset[:, None] * normal)[:, None]
        profiles = _sample(grey, centred[:, :, None] + steps[:, None] * normal[:, None, None])
        profile = profiles.mean(axis=1)
        found, clear = _locate(profile, steps)
        offset = np.where(clear, offset + found, offset)
    clear &= np.abs(offset) < reach
    points = photo.to_full(at + offset[:, None] * normal)[clear]
    marks = Marks(
        points_px=points,
        axis=axis[clear],
        coordinate=middles[np.arange(len(axis)), axis][clear],
        toward_dark=dark[clear],
        sd_px=np.full(int(clear.sum()), _MARK_SD_PX * photo.full_per_px),
    )
    for array in (marks.points_px, marks.axis, marks.coordinate, marks.toward_dark, marks.sd_px):
        array.flags.writeable = False
    return marks


_UNIT = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
_MARK_SD_PX = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fit:
    """An edge as offset + slope t + bow t^2 along the normal, t = -1..1 between its corners."""

    middle: Floats
    along: Floats  # from the middle to the edge's end
    normal: Floats
    shape: Floats
    covariance: Floats
    scatter: float
    seen: float

    def at(self, t: float) -> Floats:
        """Return the point of the edge at t."""
        out = self.shape @ np.array([1.0, t, t * t])
        return np.asarray(self.middle + t * self.along + out * self.normal)

    def heading(self, t: float) -> Floats:
        """Return the direction of the edge at t."""
        return np.asarray(self.along + (self.shape[1] + 2 * t * self.shape[2]) * self.normal)


def _fit_edge(grey: Grey, corners: Floats, i: int, reach: float) -> _Fit:
    """Locate the edge from corner i to the next in profiles across it."""
    start, end = corners[i], corners[(i + 1) % 4]
    middle, along = (start + end) / 2, (end - start) / 2
    half = float(np.hypot(*along))
    normal = np.array([along[1], -along[0]]) / half
    rim = min(1 - 1.5 * reach / half, 0.95)  # the neighbouring edges' blur stays out
    t = np.linspace(-rim, rim, int(np.clip(2 * half * rim, 12, 120)))
    steps = np.arange(-reach, reach + 0.25, 0.5)
    places = middle + t[:, None] * along
    profiles = _sample(grey, places[:, None] + steps[:, None] * normal)
    offset, clear = _locate(profiles, steps)
    good = clear & np.isfinite(offset)
    if good.sum() < 8:
        raise Refusal("reference-unclear")
    shape, covariance, scatter = _fit_bow(t[good], offset[good])
    return _Fit(
        middle=middle,
        along=along,
        normal=normal,
        shape=shape,
        covariance=covariance,
        scatter=scatter,
        seen=float(good.mean()),
    )


def _sample(grey: Grey, points: Floats) -> Floats:
    """Return grey values (..., n) at points (..., n, 2); not a number outside the picture."""
    x, y = (points[..., i].reshape(-1, points.shape[-2]).astype(np.float32) for i in (0, 1))
    values = cv2.remap(grey.astype(np.float32), x, y, cv2.INTER_LINEAR).astype(np.float64)
    outside = (x < 0) | (y < 0) | (x > grey.shape[1] - 1) | (y > grey.shape[0] - 1)
    values[outside] = np.nan
    return values.reshape(points.shape[:-1])


def _locate(profiles: Floats, steps: Floats) -> tuple[Floats, NDArray[np.bool_]]:
    """Return where each profile steps from dark to bright, and whether it clearly does.

    The step is where a sharp one of the same two levels would have the same sum: that place does
    not move under blur, and noise enters it linearly.
    """
    ends = max(2, len(steps) // 5)
    inner, outer = profiles[:, :ends].mean(axis=1), profiles[:, -ends:].mean(axis=1)
    contrast = outer - inner
    usual = np.nanmedian(contrast)
    clear = contrast > max(0.4 * usual, 10.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (profiles - inner[:, None]) / contrast[:, None]
    spacing = steps[1] - steps[0]
    area = (share[:, :-1] + share[:, 1:]).sum(axis=1) * spacing / 2
    return steps[-1] - area, clear


def _fit_bow(t: Floats, offset: Floats) -> tuple[Floats, Floats, float]:
    """Fit a parabola that disregards outliers; return it, its covariance and the scatter."""
    design = np.stack([np.ones_like(t), t, t * t], axis=1)
    ridge = np.diag([0.0, 0.0, 1e-3])
    weights = np.ones_like(t)
    for _ in range(6):
        normal = design.T @ (weights[:, None] * design) + ridge
        shape = np.linalg.solve(normal, design.T @ (weights * offset))
        rest = offset - design @ shape
        scatter = max(1.4826 * float(np.median(np.abs(rest))), 1e-3)
        weights = np.clip(1 - (rest / (4.685 * scatter)) ** 2, 0, None) ** 2  # Tukey's biweight
    # neighbouring profiles share pixels: count one in three as independent, and a floor of 0.02 px
    covariance = np.linalg.inv(normal) * 3 * scatter**2 + np.diag([0.02, 0.02, 0.01]) ** 2
    return shape, covariance, scatter


def _crossings(fits: list[_Fit]) -> Floats:
    """Return the corners where neighbouring edges cross."""
    try:
        return np.array(
            [
                cross_lines(before.at(1), before.heading(1), after.at(-1), after.heading(-1))
                for before, after in zip([fits[3], *fits[:3]], fits, strict=True)
            ]
        )
    except ValueError as error:
        raise Refusal("reference-unclear") from error

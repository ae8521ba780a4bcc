"""Finding the reference square and its four edges to a fraction of a pixel."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.marker import MODULES_PER_SIDE, side_mm_of
from motiffit.measure.geometry import cross_lines, order_clockwise
from motiffit.measure.photo import Photo
from motiffit.record import Message, Reference, make_message
from motiffit.settings import Settings

__all__ = ["Edge", "FoundReference", "find_reference"]

Floats = NDArray[np.float64]
Grey = NDArray[np.uint8]

_LEAST_SIDE_PX = 24.0  # three pixels per module of the marker: below, its code cannot be read
_SMALL_SIDE_PX = 80.0  # below, the edges alone leave over 1 % at two sides' distance (domain notes)
_NODES = np.array([-0.8, 0.0, 0.8])  # where along an edge (-1..1) it is handed on


@dataclass(frozen=True, slots=True, kw_only=True)
class Edge:
    """One edge of the square, from corner to corner clockwise.

    Attributes
    ----------
    nodes_px
        (3, 2) points of the fitted edge in full pixels, read-only.
    normal
        (2,) unit vector pointing out of the square.
    covariance_px2
        (3, 3) covariance of the nodes' places along the normal.
    """

    nodes_px: Floats
    normal: Floats
    covariance_px2: Floats


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
    edges
        Edge i runs from corner i to corner i + 1.
    messages
        What to look at.
    """

    kind: Literal["card", "square"]
    side_mm: float
    corners_px: Floats
    edges: tuple[Edge, ...]
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
    marker_id, corners = cards[0]
    side_mm = settings.side_mm or side_mm_of(marker_id)
    if side_mm is None:
        raise Refusal("reference-unknown-side", marker_id=marker_id)
    return _measure_square(photo, grey, corners, kind="card", side_mm=float(side_mm))


_LEVELS_PX = (1000, 2000, 600)  # longer side of the pictures searched, the most fruitful first


def _find_cards(grey: Grey) -> list[tuple[int, Floats]]:
    """Return (id, corners (4, 2)) of the markers at the first scale that shows any."""
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
            ratio = np.array([grey.shape[1], grey.shape[0]]) / np.array(size)
            return [(name, (corners + 0.5) * ratio - 0.5) for name, corners in found]
    return []


def _detect_markers(grey: Grey) -> list[tuple[int, Floats]]:
    """Return (id, corners clockwise) of the markers in one picture."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    how = cv2.aruco.DetectorParameters()
    how.errorCorrectionRate = 0.2  # one wrong bit of 36: cloth patterns must not pass for a card
    how.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    quads, ids, _ = cv2.aruco.ArucoDetector(family, how).detectMarkers(grey)
    if ids is None:
        return []
    return [
        (int(name), order_clockwise(quad.reshape(4, 2).astype(np.float64)))
        for name, quad in zip(np.ravel(ids), quads, strict=True)
    ]


def _measure_square(
    photo: Photo, grey: Grey, corners: Floats, *, kind: Literal["card", "square"], side_mm: float
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
    full = photo.to_full(corners)
    full.flags.writeable = False
    return FoundReference(
        kind=kind,
        side_mm=side_mm,
        corners_px=full,
        edges=tuple(_edge(photo, fit) for fit in fits),
        messages=tuple(messages),
    )


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
    """Return grey values (n, m) at points (n, m, 2); not a number outside the picture."""
    x, y = (points[..., i].astype(np.float32) for i in (0, 1))
    values = cv2.remap(grey.astype(np.float32), x, y, cv2.INTER_LINEAR).astype(np.float64)
    outside = (x < 0) | (y < 0) | (x > grey.shape[1] - 1) | (y > grey.shape[0] - 1)
    values[outside] = np.nan
    return np.asarray(values)


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


def _edge(photo: Photo, fit: _Fit) -> Edge:
    """Hand an edge on in full pixels."""
    nodes = photo.to_full(np.array([fit.at(t) for t in _NODES]))
    powers = np.stack([np.ones(3), _NODES, _NODES**2], axis=1)
    covariance = powers @ fit.covariance @ powers.T * photo.full_per_px**2
    for array in (nodes, fit.normal, covariance):
        array.flags.writeable = False
    return Edge(nodes_px=nodes, normal=fit.normal, covariance_px2=covariance)

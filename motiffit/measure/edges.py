"""Edges of a square to a fraction of a pixel: profiles across them, and lines through those."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.measure.geometry import apply_homography, cross_lines
from motiffit.measure.photo import Photo

__all__ = [
    "CLEAR_SHARE",
    "UNIT",
    "Marks",
    "SquareFit",
    "fit_square",
    "mark_borders",
    "mark_outline",
    "spread_corners",
]

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

_STEP_PX = 0.5  # between the samples of a profile
_WIDEST_PX = 6.0  # a profile's reach to each side: three times the blur of a usable photo
_RUN = 0.6  # share of a module's side that is free of its neighbours' blur
_PER_MODULE = 7  # profiles averaged along it
_BINS = 12  # marks per edge of a plain square
_MARK_SD_PX = 0.07  # scatter of borders about the fitted card in rendered photos
CLEAR_SHARE = 0.4  # of a card's usual contrast: fainter parts are in glare or covered
_LEAST_CONTRAST = 10.0  # grey levels
_LEAST_INNER = 8  # borders within the square along one axis, to tell its bleed
UNIT = np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """Places on the square's edges, and for a card on the borders of its black and white modules.

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

    def __post_init__(self) -> None:
        """Set the arrays read-only."""
        for array in (self.points_px, self.axis, self.coordinate, self.toward_dark, self.sd_px):
            array.flags.writeable = False

    def of(self, kept: Bools) -> "Marks":
        """Return only the marks kept."""
        return Marks(
            points_px=self.points_px[kept],
            axis=self.axis[kept],
            coordinate=self.coordinate[kept],
            toward_dark=self.toward_dark[kept],
            sd_px=self.sd_px[kept],
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SquareFit:
    """Four fitted edges, in pixels of the decoded picture.

    Attributes
    ----------
    corners
        (4, 2) where neighbouring edges cross.
    places, offsets, weights, normals
        Per edge: (n, 2) points on the chord between its corners, (n,) how far the edge lies beyond
        them, (n,) their part in the fit (0 for outliers), (2,) the outward normal.
    scatter
        Robust sd of single profiles about their edge, the largest of the four.
    seen
        Share of profiles in which the edge stands out clearly, the least of the four.
    """

    corners: Floats
    places: tuple[Floats, ...]
    offsets: tuple[Floats, ...]
    weights: tuple[Floats, ...]
    normals: tuple[Floats, ...]
    scatter: float
    seen: float


def fit_square(
    grey: NDArray[np.uint8], corners: Floats, *, reach: float, clear_share: float
) -> SquareFit:
    """Fit the four edges of a square that is dark inside and bright outside.

    Parameters
    ----------
    grey
        (h, w)
    corners
        (4, 2) roughly, to within ``reach``, clockwise.
    reach
        How far profiles go to each side, px.
    clear_share
        Share of an edge's usual contrast below which a profile does not count.

    Raises
    ------
    Refusal
        If an edge cannot be made out.
    """
    reach = min(reach, _WIDEST_PX)
    for _ in range(2):  # the second time about the lines of the first
        edges = [
            _fit_edge(grey, corners[i], corners[(i + 1) % 4], reach, clear_share) for i in range(4)
        ]
        corners = _crossings(edges)
    return SquareFit(
        corners=corners,
        places=tuple(edge.middle + edge.t[:, None] * edge.along for edge in edges),
        offsets=tuple(edge.offset for edge in edges),
        weights=tuple(edge.weight for edge in edges),
        normals=tuple(edge.normal for edge in edges),
        scatter=max(edge.scatter for edge in edges),
        seen=min(edge.seen for edge in edges),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class _EdgeFit:
    """An edge as offset + slope t + bow t^2 along the normal, t = -1..1 between its corners."""

    middle: Floats
    along: Floats  # from the middle to the edge's end
    normal: Floats
    shape: Floats
    t: Floats
    offset: Floats
    weight: Floats
    scatter: float
    seen: float

    def at(self, t: float) -> Floats:
        """Return the point of the edge at t."""
        out = self.shape @ np.array([1.0, t, t * t])
        return np.asarray(self.middle + t * self.along + out * self.normal)

    def heading(self, t: float) -> Floats:
        """Return the direction of the edge at t."""
        return np.asarray(self.along + (self.shape[1] + 2 * t * self.shape[2]) * self.normal)


def _fit_edge(
    grey: NDArray[np.uint8], start: Floats, end: Floats, reach: float, clear_share: float
) -> _EdgeFit:
    """Locate one edge in profiles across it."""
    middle, along = (start + end) / 2, (end - start) / 2
    half = float(np.hypot(*along))
    normal = np.array([along[1], -along[0]]) / half
    rim = min(1 - 1.5 * reach / half, 0.95)  # the neighbouring edges' blur stays out
    if rim < 0.3:
        raise Refusal("reference-unclear")
    t = np.linspace(-rim, rim, int(np.clip(2 * half * rim, 12, 120)))
    steps = _steps(reach)
    places = middle + t[:, None] * along
    profiles = _sample(grey, places[:, None] + steps[:, None] * normal)
    offset, clear = _locate(profiles, steps, clear_share)
    if clear.sum() < 8:
        raise Refusal("reference-unclear")
    shape, weight, scatter = _fit_bow(t[clear], offset[clear])
    return _EdgeFit(
        middle=middle,
        along=along,
        normal=normal,
        shape=shape,
        t=t[clear],
        offset=offset[clear],
        weight=weight,
        scatter=scatter,
        seen=float(clear.mean()),
    )


def _steps(reach: float) -> Floats:
    """Return the places of a profile's samples, across the edge."""
    return np.arange(-reach, reach + _STEP_PX / 2, _STEP_PX)


def _sample(grey: NDArray[np.uint8], points: Floats) -> Floats:
    """Return grey values (..., n) at points (..., n, 2); not a number outside the picture."""
    x, y = (points[..., i].reshape(-1, points.shape[-2]).astype(np.float32) for i in (0, 1))
    values = np.asarray(cv2.remap(grey, x, y, cv2.INTER_LINEAR), dtype=np.float64)
    values[(x < 0) | (y < 0) | (x > grey.shape[1] - 1) | (y > grey.shape[0] - 1)] = np.nan
    return values.reshape(points.shape[:-1])


def _locate(profiles: Floats, steps: Floats, clear_share: float) -> tuple[Floats, Bools]:
    """Return where each profile (n, m) steps from dark to bright, and whether it clearly does.

    The step is where a sharp one of the same two levels would have the same sum: that place does
    not move under blur, and noise enters it linearly.
    """
    ends = max(2, len(steps) // 5)
    inner, outer = profiles[:, :ends].mean(axis=1), profiles[:, -ends:].mean(axis=1)
    contrast = outer - inner  # not a number where a profile leaves the picture
    inside = np.isfinite(contrast)
    usual = float(np.median(contrast[inside])) if inside.any() else 0.0
    clear = inside & (contrast > max(clear_share * usual, _LEAST_CONTRAST))
    share = (profiles - inner[:, None]) / np.where(clear, contrast, 1.0)[:, None]
    area = (share[:, :-1] + share[:, 1:]).sum(axis=1) * _STEP_PX / 2
    return np.where(clear, steps[-1] - area, np.nan), clear


def _fit_bow(t: Floats, offset: Floats) -> tuple[Floats, Floats, float]:
    """Fit a parabola that disregards outliers; return it, the weights and the scatter."""
    design = np.stack([np.ones_like(t), t, t * t], axis=1)
    ridge = np.diag([0.0, 0.0, 1e-3])
    weights = np.ones_like(t)
    for _ in range(6):
        normal = design.T @ (weights[:, None] * design) + ridge
        shape = np.linalg.solve(normal, design.T @ (weights * offset))
        rest = offset - design @ shape
        scatter = max(1.4826 * float(np.median(np.abs(rest))), 1e-3)
        weights = np.clip(1 - (rest / (4.685 * scatter)) ** 2, 0, None) ** 2  # Tukey's biweight
    return np.asarray(shape), weights, scatter


def _crossings(edges: list[_EdgeFit]) -> Floats:
    """Return the corners where neighbouring edges cross."""
    pairs = zip([edges[3], *edges[:3]], edges, strict=True)
    try:
        return np.array(
            [cross_lines(a.at(1), a.heading(1), b.at(-1), b.heading(-1)) for a, b in pairs]
        )
    except ValueError as error:
        raise Refusal("reference-unclear") from error


def mark_outline(photo: Photo, fit: SquareFit, *, dark_inside: bool) -> Marks:
    """Return the marks of a plain square: each edge's profiles averaged in bins."""
    points, axis, coordinate, sd = [], [], [], []
    for i in range(4):
        bins = np.array_split(np.arange(len(fit.offsets[i])), _BINS)
        for members in bins:
            weight = fit.weights[i][members]
            if weight.sum() < 0.5 * len(members) or not len(members):
                continue
            out = float(np.average(fit.offsets[i][members], weights=weight))
            middle = np.average(fit.places[i][members], axis=0, weights=weight)
            points.append(middle + out * fit.normals[i])
            axis.append(1 - i % 2)
            coordinate.append(-1.0 if i in (0, 3) else 1.0)
            # neighbouring profiles share pixels and weave: one in three counts
            sd.append(np.hypot(_MARK_SD_PX, fit.scatter / np.sqrt(max(weight.sum() / 3, 1))))
    if len(points) < 2 * _BINS:
        raise Refusal("reference-unclear")
    outward = np.array(coordinate)
    return Marks(
        points_px=photo.to_full(np.array(points)),
        axis=np.array(axis),
        coordinate=outward,
        toward_dark=-outward if dark_inside else outward.copy(),
        sd_px=np.array(sd) * photo.full_per_px,
    )


def mark_borders(photo: Photo, grey: NDArray[np.uint8], corners: Floats, modules: Bools) -> Marks:
    """Return the marks of a card: the borders between its black and white modules, located alike.

    Parameters
    ----------
    grey, corners
        The picture as decoded and the card's corners (4, 2) in it.
    modules
        (8, 8), true where white, the first row along corners 0 and 1.
    """
    middles, axis, dark = _borders(modules)
    lattice = np.asarray(
        cv2.getPerspectiveTransform(UNIT.astype(np.float32), corners.astype(np.float32)),
        dtype=np.float64,
    )
    known = np.eye(2)[axis] / len(modules)  # half a module across the border
    at, beyond, *ends = (
        apply_homography(lattice, middles + by)
        for by in (0 * known, known, -known[:, ::-1], known[:, ::-1])
    )
    along = (ends[1] - ends[0]) / 2
    normal = np.column_stack([along[:, 1], -along[:, 0]]) / np.hypot(*along.T)[:, None]
    depth = np.sum(normal * (beyond - at), axis=1)
    normal *= -np.sign(depth * dark)[:, None]  # towards the bright
    steps = _steps(float(np.clip(0.8 * np.abs(depth).min(), 1.5, _WIDEST_PX)))
    spots = np.linspace(-_RUN, _RUN, _PER_MODULE)
    offset = np.zeros(len(at))
    for _ in range(2):  # the second time about the place of the first
        places = (at + offset[:, None] * normal)[:, None] + spots[:, None] * along[:, None]
        profiles = _sample(grey, places[:, :, None] + steps[:, None] * normal[:, None, None])
        found, clear = _locate(profiles.mean(axis=1), steps, CLEAR_SHARE)
        offset = np.where(clear, offset + found, offset)
    clear &= np.abs(offset) < steps[-1]
    return Marks(
        points_px=photo.to_full(at + offset[:, None] * normal)[clear],
        axis=axis[clear],
        coordinate=middles[np.arange(len(axis)), axis][clear],
        toward_dark=dark[clear],
        sd_px=np.full(int(clear.sum()), _MARK_SD_PX * photo.full_per_px),
    )


def spread_corners(photo: Photo, corners: Floats, marks: Marks) -> Floats:
    """Return a card's corners (4, 2), full pixels, freed of the bleed of its white parts.

    Blur in linear light moves every border towards the black: the square seems smaller, and within
    it the borders on either side of a black module draw together. From a card of which the outer
    edge was followed, a border seems off by bleed (toward_dark + coordinate).
    """
    seen = photo.to_full(corners)
    unit = UNIT.astype(np.float32)
    lattice = np.asarray(cv2.getPerspectiveTransform(seen.astype(np.float32), unit), np.float64)
    uv = apply_homography(lattice, marks.points_px)
    apart = uv[np.arange(len(uv)), marks.axis] - marks.coordinate
    pull = marks.toward_dark + marks.coordinate
    bleed = np.zeros(2)
    for axis in (0, 1):
        inner = (marks.axis == axis) & (np.abs(marks.coordinate) < 1)
        if inner.sum() >= _LEAST_INNER:
            slopes = apart[inner] * pull[inner] / np.mean(pull[inner] ** 2)
            bleed[axis] = np.mean(slopes)
    back = np.asarray(np.linalg.inv(lattice), dtype=np.float64)
    return apply_homography(back, UNIT * (1 + bleed))


def _borders(modules: Bools) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Return middles (N, 2) as (u, v) of the borders, their axis, and the side towards black."""
    count = len(modules)
    framed = np.pad(modules, 1, constant_values=True).astype(np.int64)
    middles, axes, dark = [], [], []
    for axis, grid in enumerate((framed, framed.T)):
        row, line = np.nonzero(np.diff(grid[1:-1], axis=1))
        pair = (2 * line / count - 1, (2 * row + 1) / count - 1)
        middles.append(np.column_stack(pair if axis == 0 else pair[::-1]))
        axes.append(np.full(len(row), axis))
        dark.append((grid[row + 1, line] - grid[row + 1, line + 1]).astype(np.float64))
    return np.concatenate(middles), np.concatenate(axes), np.concatenate(dark)

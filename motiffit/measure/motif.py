"""The motif: what differs from the garment's own ground, grouped into tight boxes.

The ground may have several colours (stripes, dots): a colour that is spread over the whole garment
is ground, whatever else it is. What is left must stand out from the cloth's own unevenness.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.color import deltaE_ciede2000

from motiffit.measure.cloth import Cloth
from motiffit.measure.flatview import FlatView
from motiffit.measure.segment import group_pixels
from motiffit.record import Message, Point, Sides, make_message
from motiffit.settings import Turn

__all__ = ["MotifBox", "MotifsFound", "find_motifs"]

_STEP_MM = 1.5
"""Grid of the search; finer shows the knit, coarser loses thin lettering."""

_HEM_MM = 12.0
"""Ribbing, piping and seams follow the outline this far in, and are not the motif."""

_JOIN_MM = 14.0
"""Parts nearer to one another than this are one motif: words stand that far from their picture."""

_LEAST_MM = 14.0
"""A motif's longer side; smaller things are snaps, labels and stains."""

_LEAST_DIFFERENCE = 7.0
"""CIEDE2000 units: shading and folds of plain cloth stay below this once levelled."""

_COLOURS = 8
"""Groups of like colour on the garment, print and ground together."""

_SPREAD_OUT = 0.55
"""Share of the garment's regions in which a colour must occur to be ground."""

_ALLOVER_SHARE = 0.5
"""If parts that differ occur in this share of the garment's regions, it is printed all over."""

_RIVAL = 0.35
"""Weight against the best part's from which another part counts as a motif of its own."""

_MOST_TRUST = 0.4
"""Trust where everything speaks for a box: on 80 real garments such boxes are right (IoU >= 0.8
with the true one) in four cases of ten, and no measure of colour or shape tells which."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotifBox:
    """A motif's tight box on the cloth.

    Attributes
    ----------
    centre_mm
        The box's middle.
    width_mm, height_mm
        Its sides.
    angle_deg
        Turn of the box against the mm frame, clockwise.
    edge_sd_mm
        The finder's own error of each edge, without the plane's.
    trust
        Probability, 0..1, that the box is the motif's and holds all of it.
    own_angle_deg
        The motif's own turn against the garment's upright; None if it shows none.
    """

    centre_mm: Point
    width_mm: float
    height_mm: float
    angle_deg: float
    edge_sd_mm: Sides
    trust: float
    own_angle_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MotifsFound:
    """The motifs, best first.

    Attributes
    ----------
    candidates
        Boxes, best first; empty when there is no motif.
    p_motif
        Probability, 0..1, that the garment has a motif.
    messages
        What a person should know.
    """

    candidates: tuple[MotifBox, ...]
    p_motif: float
    messages: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Level:
    """The garment turned to a given axis, on the search grid."""

    lab: NDArray[np.float32]
    inner: NDArray[np.bool_]
    depth: NDArray[np.float32]  # distance from the garment's outline, 1 at its greatest
    to_mm: NDArray[np.float64]  # (2, 3): (column, row) of the grid to mm
    angle_deg: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """One group of pixels that differ from the ground."""

    pixels: NDArray[np.bool_]
    box: tuple[int, int, int, int]  # left, top, right, bottom, right and bottom excluded
    contrast: float
    weight: float


def find_motifs(flat: FlatView, cloth: Cloth, *, turn: Turn) -> MotifsFound:
    """Find what is to be framed on the garment.

    Parameters
    ----------
    flat
        The metric picture.
    cloth
        The garment on it.
    turn : {'grain', 'motif'}
        Whether boxes follow the garment's upright axis or the motif's own.

    Returns
    -------
    MotifsFound
        With ``no-motif`` when the cloth is plain, striped or printed all over, else with
        ``motif-doubtful``: colour alone never makes it certain that a box is the whole motif.
    """
    if not cloth.mask.any():
        return MotifsFound(candidates=(), p_motif=0.0, messages=(make_message("no-motif"),))
    level = _turn_upright(flat, cloth)
    parts = _parts(_differs(level), level)
    p_motif = _probability(parts, level)
    if p_motif < 0.5:
        return MotifsFound(candidates=(), p_motif=p_motif, messages=(make_message("no-motif"),))
    rivals = [part for part in parts if part.weight > _RIVAL * parts[0].weight]
    alone = parts[0].weight / sum(part.weight for part in parts)
    trust = _MOST_TRUST * p_motif * alone
    return MotifsFound(
        candidates=tuple(_box(part, level, turn, trust) for part in rivals),
        p_motif=p_motif,
        messages=(make_message("motif-doubtful"),),
    )


def _turn_upright(flat: FlatView, cloth: Cloth) -> _Level:
    """Turn the garment upright and bring it to the search grid."""
    angle = np.deg2rad(cloth.upright_deg)
    axes = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    local = cloth.outline_mm @ axes
    low, high = local.min(axis=0), local.max(axis=0)
    size = tuple(int(n) for n in np.ceil((high - low) / _STEP_MM) + 1)
    to_mm = np.column_stack([axes * _STEP_MM, axes @ low])
    to_flat = to_mm / flat.mm_per_px
    to_flat[:, 2] -= np.asarray(flat.origin_mm) / flat.mm_per_px
    # halving first keeps the weave from turning into noise on the coarser grid
    blur = _STEP_MM / flat.mm_per_px / 2.5
    soft = cv2.GaussianBlur(flat.picture, (0, 0), blur) if blur > 0.4 else flat.picture
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    picture = cv2.warpAffine(soft, to_flat, size, flags=flags)
    mask = cv2.warpAffine(cloth.mask.astype(np.uint8), to_flat, size, flags=flags)
    hem = round(_HEM_MM / _STEP_MM)
    depth = cv2.distanceTransform(np.pad(mask, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    inner = (depth > hem) & ~_near_reference(flat, to_mm, size)
    lab = cv2.cvtColor(picture.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    return _Level(
        lab=np.asarray(lab, np.float32),
        inner=inner,
        depth=np.asarray(depth / max(float(depth.max()), 1.0), np.float32),
        to_mm=to_mm,
        angle_deg=cloth.upright_deg,
    )


def _near_reference(
    flat: FlatView, to_mm: NDArray[np.float64], size: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Return where the reference square with its margin lies on the search grid."""
    middle = flat.reference_mm.mean(axis=0)
    corners = middle + (flat.reference_mm - middle) * 1.3
    points = np.linalg.solve(to_mm[:, :2], (corners - to_mm[:, 2]).T).T
    drawn = np.zeros((size[1], size[0]), np.uint8)
    cv2.fillConvexPoly(drawn, np.round(points).astype(np.int32), 1)
    return drawn.astype(bool)


def _differs(level: _Level) -> NDArray[np.float32]:
    """Return how far each pixel is from the nearest colour of the ground (CIEDE2000)."""
    grounds = _ground_colours(level)
    differences = [
        deltaE_ciede2000(level.lab, ground[None, None])  # type: ignore[no-untyped-call]
        for ground in grounds
    ]
    nearest = np.min(differences, axis=0).astype(np.float32)
    nearest[~level.inner] = 0
    return np.asarray(nearest, np.float32)


def _ground_colours(level: _Level) -> list[NDArray[np.float32]]:
    """Return the colours that are spread over the whole garment, most common first."""
    if level.inner.sum() < 100:
        return [np.median(level.lab.reshape(-1, 3), axis=0)]
    samples = level.lab[level.inner]
    groups = group_pixels(level.lab, level.inner, count=_COLOURS)[level.inner]
    region = _regions(level.inner)[level.inner]
    whole = np.bincount(region, minlength=36)
    counts = np.array([np.bincount(region[groups == k], minlength=36) for k in range(_COLOURS)])
    # a region shows a colour when it fills 8 % of it, whatever the fold or the print there
    counted = whole > 0.2 * whole.max()
    spread = (counts > 0.08 * whole)[:, counted].mean(axis=1)
    order = np.argsort(-counts.sum(axis=1))
    chosen = [k for k in order if spread[k] > _SPREAD_OUT or k == order[0]]
    return [samples[groups == k].mean(axis=0) for k in chosen]


def _regions(inner: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Return the number of each pixel's field of a 6 x 6 board over the garment."""
    rows, cols = np.indices(inner.shape)
    return np.asarray((rows * 6 // inner.shape[0]) * 6 + cols * 6 // inner.shape[1], np.intp)


def _parts(difference: NDArray[np.float32], level: _Level) -> list[_Part]:
    """Group what differs from the ground into parts, the most likely motif first."""
    values = difference[level.inner]
    if values.size == 0:
        return []
    middle = float(np.median(values))
    noise = 1.4826 * float(np.median(np.abs(values - middle)))
    marked = (difference > max(_LEAST_DIFFERENCE, middle + 4 * noise)).astype(np.uint8)
    marked = np.asarray(cv2.morphologyEx(marked, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8)))
    reach = round(_JOIN_MM / _STEP_MM) | 1
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (reach, reach))
    count, labels = cv2.connectedComponents(cv2.dilate(marked, kernel))
    labels[marked == 0] = 0
    parts = [_part(labels == k, difference, level) for k in range(1, count)]
    real = [part for part in parts if _is_motif_like(part)]
    return sorted(real, key=lambda part: -part.weight)


def _part(pixels: NDArray[np.bool_], difference: NDArray[np.float32], level: _Level) -> _Part:
    """Measure one group of pixels."""
    rows, cols = np.nonzero(pixels)
    box = (int(cols.min()), int(rows.min()), int(cols.max()) + 1, int(rows.max()) + 1)
    contrast = float(np.median(difference[pixels]))
    # a part along the outline is a neckband, a cuff or a hem
    inland = min(1.0, float(level.depth[pixels].mean()) / 0.45) ** 2
    weight = len(rows) * min(contrast, 30.0) * inland
    return _Part(pixels=pixels, box=box, contrast=contrast, weight=weight)


def _is_motif_like(part: _Part) -> bool:
    """Tell a motif from a snap, a label, a seam or a fold."""
    left, top, right, bottom = part.box
    sides = np.array([right - left, bottom - top]) * _STEP_MM
    filled = part.pixels.sum() * _STEP_MM**2 / sides.prod()
    return bool(sides.max() >= _LEAST_MM and sides.min() >= 6 and filled > 0.06)


def _probability(parts: list[_Part], level: _Level) -> float:
    """Return the probability that the garment has a motif."""
    if not parts:
        return 0.05
    first = parts[0]
    rivals = [part for part in parts if part.weight > 0.2 * first.weight]
    regions = _regions(level.inner)
    marked = np.bincount(np.concatenate([regions[p.pixels] for p in rivals]), minlength=36)
    whole = np.bincount(regions[level.inner], minlength=36)
    counted = whole > 0.2 * whole.max()
    if (marked > 0.04 * whole)[counted].mean() > _ALLOVER_SHARE:
        return 0.15
    strong = np.clip((first.contrast - 6) / 14, 0, 1)
    size = np.clip(max(first.box[2] - first.box[0], first.box[3] - first.box[1]) / 30, 0, 1)
    return float(0.2 + 0.75 * strong * size)


def _box(part: _Part, level: _Level, turn: Turn, trust: float) -> MotifBox:
    """Turn a part into a box in mm."""
    rows, cols = np.nonzero(part.pixels)
    points = np.column_stack([cols, rows]).astype(np.float32)
    (_, _), (long, short), free = cv2.minAreaRect(points)
    own = float((free + 45) % 90 - 45)
    clear = long * short * 1.08 < (part.box[2] - part.box[0]) * (part.box[3] - part.box[1])
    own_angle = own if clear else None
    turned = own if turn == "motif" and clear else 0.0
    radians = np.deg2rad(turned)
    axes = np.array([[np.cos(radians), -np.sin(radians)], [np.sin(radians), np.cos(radians)]])
    local = points.astype(float) @ axes
    low, high = local.min(axis=0) - 0.5, local.max(axis=0) + 0.5
    centre = level.to_mm[:, :2] @ (axes @ ((low + high) / 2)) + level.to_mm[:, 2]
    sd = _STEP_MM + 0.02 * float((high - low).max()) * _STEP_MM
    return MotifBox(
        centre_mm=(float(centre[0]), float(centre[1])),
        width_mm=float(high[0] - low[0]) * _STEP_MM,
        height_mm=float(high[1] - low[1]) * _STEP_MM,
        angle_deg=level.angle_deg + turned,
        edge_sd_mm=Sides(top=sd, right=sd, bottom=sd, left=sd),
        trust=trust,
        own_angle_deg=own_angle,
    )

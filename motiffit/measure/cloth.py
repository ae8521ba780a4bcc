"""The garment: told from what it lies on, with its outline and its upright axis.

Colours that are common at the rim of the view and rare in its middle are taken for the ground
that the garment lies on; a graph cut draws the line between the two where the picture changes.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.upright import find_upright
from motiffit.record import Message, make_message

__all__ = ["Cloth", "separate_cloth"]

_STEP_MM = 4.0
"""Grid on which garment and ground are told apart: finer is slower and follows the weave."""

_COLOURS = 12
"""Groups of like colour and texture; below 8 a print merges with a ground of its colour."""

_RIM = 0.12
"""Width of the rim, as a share of the distance from the view's middle to its nearest edge."""

_MARGIN = 1.25
"""Side of a card with its white margin of one module, against the reference square's."""

_TRUST_UNCLEAR = 0.5
"""Below this trust a person is asked to look at the outline."""

_OUTLINE_MM = 1.0
"""How far the outline may stray from the mask's border for the sake of few points."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Cloth:
    """The garment on the flat view.

    Attributes
    ----------
    mask : (H, W) bool
        True on the garment, on the flat view's grid; read-only.
    outline_mm : (N, 2) float64
        Its outer boundary, clockwise as seen; empty when no garment was found; read-only.
    upright_deg
        Turn of the garment's up from the photo's up, clockwise.
    trust
        Probability, 0..1, that the outline is the garment's.
    reference_on_cloth
        True when the reference square lies on the garment.
    messages
        What a person should know.
    """

    mask: NDArray[np.bool_]
    outline_mm: NDArray[np.float64]
    upright_deg: float
    trust: float
    reference_on_cloth: bool
    messages: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Coarse:
    """The flat view on the coarse grid."""

    lab: NDArray[np.float32]
    usable: NDArray[np.bool_]
    card: NDArray[np.bool_]
    depth: NDArray[np.float32]  # distance from the edge of the view: 0 there, 1 in its middle
    scale: NDArray[np.float64]  # flat view pixels per coarse pixel (x, y)


def separate_cloth(flat: FlatView) -> Cloth:
    """Tell the garment from what it lies on.

    Parameters
    ----------
    flat
        The metric picture.

    Returns
    -------
    Cloth
        With ``garment-unclear`` when the outline is not to be trusted, and ``garment-cut`` when
        the garment reaches the edge of the photo.
    """
    coarse = _shrink(flat)
    score = _garment_score(coarse)
    region = _largest(_cut_out(coarse, score))
    if not region.any():
        return _nothing(flat)
    outline = _outline(region, coarse, flat)
    mask = _fill(outline, flat)
    upright = find_upright(region)
    trust = _trust(region, coarse, upright.symmetry)
    messages = [make_message("garment-unclear")] if trust < _TRUST_UNCLEAR else []
    if (region & (coarse.depth < 2 / max(region.shape))).any():
        messages.append(make_message("garment-cut"))
    outline.setflags(write=False)
    mask.setflags(write=False)
    return Cloth(
        mask=mask,
        outline_mm=outline,
        upright_deg=upright.upright_deg,
        trust=trust,
        reference_on_cloth=_is_on(region, coarse.card),
        messages=tuple(messages),
    )


def _nothing(flat: FlatView) -> Cloth:
    """Return the cloth of a view without a garment."""
    mask = np.zeros(flat.valid.shape, bool)
    outline = np.zeros((0, 2))
    mask.setflags(write=False)
    outline.setflags(write=False)
    return Cloth(
        mask=mask,
        outline_mm=outline,
        upright_deg=0.0,
        trust=0.0,
        reference_on_cloth=False,
        messages=(make_message("garment-unclear"),),
    )


def _shrink(flat: FlatView) -> _Coarse:
    """Bring the flat view to the coarse grid."""
    height, width = flat.valid.shape
    share = flat.mm_per_px / _STEP_MM
    size = (max(8, round(width * share)), max(8, round(height * share)))
    picture = cv2.resize(flat.picture, size, interpolation=cv2.INTER_AREA)
    valid = cv2.resize(flat.valid.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    lab = cv2.cvtColor(picture.astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    scale = np.array([width / size[0], height / size[1]])
    card = _card(flat, scale, valid.shape)
    rimmed = np.pad(valid, 1)
    depth = cv2.distanceTransform(rimmed, cv2.DIST_L2, 3)[1:-1, 1:-1]
    return _Coarse(
        lab=np.asarray(lab, np.float32),
        usable=(depth > 1) & ~card,
        card=card,
        depth=np.asarray(depth / max(float(depth.max()), 1.0), np.float32),
        scale=scale,
    )


def _card(flat: FlatView, scale: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return where the reference square and its white margin lie on the coarse grid."""
    middle = flat.reference_mm.mean(axis=0)
    corners = flat.to_flat(middle + (flat.reference_mm - middle) * _MARGIN)
    points = np.round(((corners + 0.5) / scale - 0.5) * 16).astype(np.int32)
    drawn = np.zeros(shape, np.uint8)
    cv2.fillConvexPoly(drawn, points, 1, shift=4)
    return np.asarray(cv2.dilate(drawn, np.ones((3, 3), np.uint8)), bool)


def _garment_score(coarse: _Coarse) -> NDArray[np.float32]:
    """Return, per coarse pixel, how much its colour speaks for the garment (log odds)."""
    smooth = cv2.GaussianBlur(coarse.lab, (0, 0), 1.5)
    texture = cv2.sqrt(cv2.blur(((coarse.lab - smooth) ** 2).sum(axis=2), (5, 5)))
    # lightness counts less: shadows change it, hardly the hue
    features = np.dstack([smooth[..., 0] * 0.6, smooth[..., 1:], texture]).astype(np.float32)
    groups = _group(features, coarse.usable)
    rim = coarse.usable & (coarse.depth < _RIM)
    middle = coarse.usable & (coarse.depth > 0.5)
    at_rim = np.bincount(groups[rim], minlength=_COLOURS) / max(1, rim.sum())
    in_middle = np.bincount(groups[middle], minlength=_COLOURS) / max(1, middle.sum())
    odds = np.log((in_middle + 0.01) / (at_rim + 0.01)).astype(np.float32)
    return np.asarray(cv2.GaussianBlur(odds[groups], (0, 0), 1.0), np.float32)


def _group(features: NDArray[np.float32], usable: NDArray[np.bool_]) -> NDArray[np.intp]:
    """Sort pixels into groups of like features."""
    samples = features[usable]
    samples = np.ascontiguousarray(samples[:: max(1, len(samples) // 3000)])
    cv2.setRNGSeed(1)
    stop = (cv2.TERM_CRITERIA_COUNT + cv2.TERM_CRITERIA_EPS, 20, 0.5)
    count = min(_COLOURS, len(samples))
    _, _, centres = cv2.kmeans(
        samples, count, np.empty(0, np.int32), stop, 1, cv2.KMEANS_PP_CENTERS
    )
    distance = ((features[:, :, None] - centres) ** 2).sum(axis=3)
    return np.asarray(distance.argmin(axis=2), np.intp)


def _cut_out(coarse: _Coarse, score: NDArray[np.float32]) -> NDArray[np.uint8]:
    """Draw the line between garment and ground where the picture changes."""
    towards_middle = np.minimum(coarse.depth / 0.45, 1)
    likely = score + 1.5 * (towards_middle - 0.5) > 0
    marks = np.where(likely, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    marks[(coarse.depth < _RIM) & (score < -0.5)] = cv2.GC_BGD
    marks[~coarse.usable] = cv2.GC_BGD
    if not 0.01 < likely.mean() < 0.99:
        return np.zeros(likely.shape, np.uint8)
    levels = coarse.lab * 2 + np.array([0, 128, 128], np.float32)
    # clipped whites and blacks have no spread at all, which the cut's colour models cannot bear
    rng = np.random.default_rng(0)
    levels += rng.normal(0, 1.5, levels.shape)
    picture = np.clip(levels, 0, 255).astype(np.uint8)
    ground = picture[(marks == cv2.GC_BGD) & coarse.usable]
    if len(ground):
        picture[~coarse.usable] = rng.choice(ground, int((~coarse.usable).sum()))
    ground, garment = np.zeros((1, 65)), np.zeros((1, 65))
    whole = (0, 0, marks.shape[1], marks.shape[0])
    cv2.grabCut(picture, marks, whole, ground, garment, 3, cv2.GC_INIT_WITH_MASK)
    return np.isin(marks, (cv2.GC_FGD, cv2.GC_PR_FGD)).astype(np.uint8)


def _largest(found: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Keep the largest part, without threads and holes."""
    found = np.asarray(cv2.morphologyEx(found, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)))
    contours, _ = cv2.findContours(found, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros_like(found)
    if contours:
        cv2.drawContours(filled, [max(contours, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return filled.astype(bool)


def _outline(region: NDArray[np.bool_], coarse: _Coarse, flat: FlatView) -> NDArray[np.float64]:
    """Return the boundary of the region as a polygon in mm."""
    # a boundary at half height of the smoothed mask runs between pixels, not through them
    size = tuple(np.array(region.shape[::-1]) * 4)
    grown = cv2.resize(region.astype(np.float32), size, interpolation=cv2.INTER_CUBIC)
    inside = (cv2.GaussianBlur(grown, (0, 0), 3.0) > 0.5).astype(np.uint8)
    contours, _ = cv2.findContours(inside, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    longest = max(contours, key=cv2.contourArea)
    few = cv2.approxPolyDP(longest, _OUTLINE_MM * 4 / _STEP_MM, True)[:, 0].astype(np.float64)
    points = ((few + 0.5) / 4 * coarse.scale) - 0.5
    return np.asarray(flat.to_mm(points[::-1]), np.float64)


def _fill(outline_mm: NDArray[np.float64], flat: FlatView) -> NDArray[np.bool_]:
    """Return the inside of the outline on the flat view's grid."""
    drawn = np.zeros(flat.valid.shape, np.uint8)
    points = np.round(flat.to_flat(outline_mm) * 16).astype(np.int32)
    cv2.fillPoly(drawn, [points], 1, shift=4)
    return drawn.astype(bool)


def _trust(region: NDArray[np.bool_], coarse: _Coarse, symmetry: float) -> float:
    """Return how far the outline is to be trusted."""
    kernel = np.ones((5, 5), np.uint8)
    inner = region & ~cv2.erode(region.astype(np.uint8), kernel).astype(bool)
    outer = cv2.dilate(region.astype(np.uint8), kernel).astype(bool) & ~region & coarse.usable
    if not inner.any() or not outer.any():
        return 0.0
    contrast = float(
        np.linalg.norm(coarse.lab[inner].mean(axis=0) - coarse.lab[outer].mean(axis=0))
    )
    share = float(region.mean())
    sensible = 1.0 if 0.03 < share < 0.85 else 0.3
    return float(np.clip(contrast / 15, 0, 1) * np.clip((symmetry - 0.6) / 0.25, 0, 1) * sensible)


def _is_on(region: NDArray[np.bool_], card: NDArray[np.bool_]) -> bool:
    """Tell whether most of the card's surroundings belong to the garment."""
    around = cv2.dilate(card.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool) & ~card
    return bool(around.any() and region[around].mean() > 0.8)

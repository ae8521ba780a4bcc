"""The garment: told from what it lies on, with its outline and its upright axis.

The net says roughly where the garment lies and which way is up. The colours on either side are
counted, a minimum cut parts the two on a coarse grid by both kinds of evidence, and the border is
at last moved to where the picture itself changes.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.measure import find_contours

from motiffit.marker import PAPER_TO_SIDE
from motiffit.measure.contour import even_points, snap_contour, without_loops
from motiffit.measure.flatview import FlatView
from motiffit.measure.garment import GarmentSeen, cloth_odds, mirrored_share, see_garment
from motiffit.measure.geometry import polygon_area
from motiffit.measure.segment import count_odds, cut_in_two, group_pixels
from motiffit.measure.view import View
from motiffit.record import Message, make_message

__all__ = ["Cloth", "separate_cloth"]

_CELL_MM = 4.0
"""Grid on which the garment is told from its ground: finer is slower and follows the weave."""

_LEAST_CELLS = 20
"""Fewer than these are no garment: 3 square centimetres."""

_ROUND_CELLS = 4
"""Cells kept round what the net looked at; its log odds there let no garment be."""

_RIM_CELLS = 2.5
"""A garment that comes as near as this to the edge of the photo is cut by it."""

_COLOURS = 10
"""Groups of like colour and texture; with 24 a garment of one colour falls apart."""

_NET_SAYS, _COLOUR_SAYS = 0.8, 0.65
"""Weights of the two kinds of log odds in the cut; the net's are clipped to four either way. On 80
real photos the garment's box has IoU >= 0.8 in all; with 0.6 and 0.5 in 97 %."""

_SURE_ODDS = 3.0
"""Log odds from which a cell counts when colours are learnt: what the net half believes, a board of
the floor or a tape measure, taught the floor's colours as the garment's."""

_SPACING_MM = 3.0
"""Between points of the outline while it is fitted."""

_SIMPLE_MM = 0.7
"""How far the simplified outline may stray from the fitted one."""

_TRUST_UNCLEAR = 0.5
"""Below this trust a person is asked to look at the outline."""


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
    seen
        What the net made of the garment; None when it saw none.
    """

    mask: NDArray[np.bool_]
    outline_mm: NDArray[np.float64]
    upright_deg: float
    trust: float
    reference_on_cloth: bool
    messages: tuple[Message, ...]
    seen: GarmentSeen | None


@dataclass(frozen=True, slots=True, kw_only=True)
class _Coarse:
    """The part of the flat view that the net looked at, on the coarse grid."""

    lab: NDArray[np.float32]
    usable: NDArray[np.bool_]
    card: NDArray[np.bool_]
    depth: NDArray[np.float32]  # cells from the edge of what the photo shows
    scale: NDArray[np.float64]  # flat view pixels per cell (x, y)
    first: NDArray[np.intp]  # (x, y) of its first cell, counted over the whole flat view

    def to_flat(self, cells: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return pixels (N, 2) of the flat view for cells (N, 2), as (column, row)."""
        return np.asarray((cells + self.first + 0.5) * self.scale - 0.5)


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
    seen = see_garment(flat)
    if seen is None:
        return _nothing(flat)
    coarse = _shrink(flat, seen.glance.view)
    region = _find_region(coarse, _net_odds(seen, coarse, flat))
    if region.sum() < _LEAST_CELLS:
        return _nothing(flat)
    outline = _outline(region, coarse, flat)
    trust = _trust(region, coarse, seen)
    messages = [make_message("garment-unclear")] if trust < _TRUST_UNCLEAR else []
    if (region & (coarse.depth < _RIM_CELLS)).any():
        messages.append(make_message("garment-cut"))
    mask = _fill(outline, flat)
    for array in (outline, mask):
        array.setflags(write=False)
    return Cloth(
        mask=mask,
        outline_mm=outline,
        upright_deg=seen.turn_deg,
        trust=trust,
        reference_on_cloth=_is_on(region, coarse.card),
        messages=tuple(messages),
        seen=seen,
    )


def _nothing(flat: FlatView) -> Cloth:
    """Return the cloth of a view without a garment."""
    mask = np.zeros(flat.valid.shape, bool)
    outline = np.zeros((0, 2))
    for array in (outline, mask):
        array.setflags(write=False)
    return Cloth(
        mask=mask,
        outline_mm=outline,
        upright_deg=0.0,
        trust=0.0,
        reference_on_cloth=False,
        messages=(make_message("garment-unclear"),),
        seen=None,
    )


def _shrink(flat: FlatView, view: View) -> _Coarse:
    """Bring the part of the flat view that a view shows to the coarse grid."""
    height, width = flat.valid.shape
    share = flat.mm_per_px / _CELL_MM
    size = (max(8, round(width * share)), max(8, round(height * share)))
    valid = cv2.resize(flat.valid.view(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    depth = cv2.distanceTransform(np.pad(valid, 1), cv2.DIST_L2, 3)[1:-1, 1:-1]
    scale = np.array([width / size[0], height / size[1]])
    card = _card(flat, scale, valid.shape)
    picture = cv2.resize(flat.picture, size, interpolation=cv2.INTER_AREA)
    x, y = _window(view, flat, scale, size)
    lab = cv2.cvtColor(picture[y, x].astype(np.float32) / 255, cv2.COLOR_RGB2LAB)
    return _Coarse(
        lab=np.asarray(lab, np.float32),
        usable=((depth > 1) & ~card)[y, x],
        card=card[y, x],
        depth=np.asarray(depth[y, x], np.float32),
        scale=scale,
        first=np.array([x.start, y.start]),
    )


def _window(
    view: View, flat: FlatView, scale: NDArray[np.float64], size: tuple[int, int]
) -> tuple[slice, slice]:
    """Return the columns and rows of the coarse grid that a view touches."""
    cells = (flat.to_flat(view.corners_mm()) + 0.5) / scale - 0.5
    first = np.floor(cells.min(axis=0) - _ROUND_CELLS).clip(0, np.array(size) - 8).astype(int)
    last = np.ceil(cells.max(axis=0) + _ROUND_CELLS).clip(first + 8, size).astype(int)
    return slice(first[0], last[0]), slice(first[1], last[1])


def _card(flat: FlatView, scale: NDArray[np.float64], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Return where the reference square and its white margin lie on the coarse grid."""
    middle = flat.reference_mm.mean(axis=0)
    corners = flat.to_flat(middle + (flat.reference_mm - middle) * PAPER_TO_SIDE)
    points = np.round(((corners + 0.5) / scale - 0.5) * 16).astype(np.int32)
    drawn = np.zeros(shape, np.uint8)
    cv2.fillConvexPoly(drawn, points, 1, shift=4)
    return np.asarray(cv2.dilate(drawn, np.ones((3, 3), np.uint8)), bool)


def _net_odds(seen: GarmentSeen, coarse: _Coarse, flat: FlatView) -> NDArray[np.float32]:
    """Return the net's log odds of garment on the coarse grid."""
    rows, cols = np.indices(coarse.usable.shape)
    cells = np.column_stack([cols.ravel(), rows.ravel()]).astype(np.float64)
    places = flat.to_mm(coarse.to_flat(cells))
    odds = cloth_odds(seen, places.reshape(*coarse.usable.shape, 2))
    return np.asarray(odds.clip(-4, 4), np.float32)


def _find_region(coarse: _Coarse, net_odds: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Return the cells of the garment."""
    if coarse.usable.sum() < _LEAST_CELLS:
        return np.zeros(coarse.usable.shape, bool)
    groups = group_pixels(_features(coarse.lab), coarse.usable, count=_COLOURS)
    surely, hardly = (coarse.usable & (sign * net_odds > _SURE_ODDS) for sign in (1, -1))
    if surely.sum() < _LEAST_CELLS:
        surely = coarse.usable & (net_odds > 0)
    colour_odds = count_odds(groups, surely, hardly)
    odds = _NET_SAYS * net_odds + _COLOUR_SAYS * colour_odds
    return _largest(cut_in_two(odds, coarse.lab, coarse.usable))


def _features(lab: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return colour and texture of each cell."""
    # cells on a border are mixtures, found nowhere else: neither colour nor texture may smear there
    smooth = cv2.bilateralFilter(lab, 5, 12.0, 1.5)
    grain = ((lab - cv2.GaussianBlur(lab, (0, 0), 1.5)) ** 2).sum(axis=2)
    window = np.ones((5, 5), np.uint8)
    # blur's running sums leave tiny negatives where there is no grain at all
    spread = cv2.sqrt(np.maximum(cv2.blur(grain, (5, 5)), 0))
    texture = cv2.erode(spread, window, borderType=cv2.BORDER_REPLICATE)
    # lightness counts less: shadows change it, hardly the hue
    return np.dstack([smooth[..., 0] * 0.3, smooth[..., 1:], texture]).astype(np.float32)


def _largest(region: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Keep the largest part, without threads and holes."""
    found = cv2.morphologyEx(region.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    contours, _ = cv2.findContours(found, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    filled = np.zeros(region.shape, np.uint8)
    if contours:
        cv2.drawContours(filled, [max(contours, key=cv2.contourArea)], -1, 1, cv2.FILLED)
    return filled.astype(bool)


def _outline(region: NDArray[np.bool_], coarse: _Coarse, flat: FlatView) -> NDArray[np.float64]:
    """Return the garment's border as a polygon in mm."""
    soft = cv2.GaussianBlur(np.pad(region, 2).astype(np.float32), (0, 0), 0.8)
    rings = find_contours(soft, 0.5)  # type: ignore[no-untyped-call]
    rough = max(rings, key=len)[:-1, ::-1] - 2.0
    if polygon_area(rough) < 0:
        rough = rough[::-1]
    points = even_points(coarse.to_flat(rough), spacing=_SPACING_MM / flat.mm_per_px)
    points = snap_contour(points, flat.picture, mm_per_px=flat.mm_per_px)
    few = cv2.approxPolyDP(points.astype(np.float32), _SIMPLE_MM / flat.mm_per_px, True)[:, 0]
    return flat.to_mm(without_loops(few.astype(np.float64)))


def _fill(outline_mm: NDArray[np.float64], flat: FlatView) -> NDArray[np.bool_]:
    """Return the inside of the outline on the flat view's grid."""
    drawn = np.zeros(flat.valid.shape, np.uint8)
    points = np.round(flat.to_flat(outline_mm) * 16).astype(np.int32)
    cv2.fillPoly(drawn, [points], 1, shift=4)
    return drawn.astype(bool)


def _trust(region: NDArray[np.bool_], coarse: _Coarse, seen: GarmentSeen) -> float:
    """Return how far the outline is to be trusted."""
    symmetry = max(seen.symmetry, mirrored_share(region, seen.turn_deg))
    contrast = np.log(_least_contrast(region, coarse) + 3)
    odds = 33.6 * np.clip(symmetry, 0.8, 1.0) + 1.32 * contrast - 34.4
    return float(min(2 * _shown_share(region, coarse), 1.0) / (1 + np.exp(-odds)))


def _shown_share(region: NDArray[np.bool_], coarse: _Coarse) -> float:
    """Return the share of the border that is the garment's own, not the photo's edge."""
    around = cv2.erode(np.pad(region, 1).astype(np.uint8), np.ones((3, 3), np.uint8))[1:-1, 1:-1]
    border = region & (around == 0)
    return float((coarse.depth[border] >= _RIM_CELLS).mean())


def _least_contrast(region: NDArray[np.bool_], coarse: _Coarse) -> float:
    """Return the colour difference across the border, exceeded along nine tenths of it."""
    beyond = coarse.usable & ~region
    shares, means = [], []
    for part in (region, beyond):
        share = cv2.blur(part.astype(np.float32), (5, 5))
        shares.append(share)
        means.append(
            cv2.blur(coarse.lab * part[..., None], (5, 5)) / np.maximum(share, 1e-3)[..., None]
        )
    window = np.ones((3, 3), np.uint8)
    border = region & ~cv2.erode(region.astype(np.uint8), window).astype(bool) & (shares[1] > 0.15)
    if not border.any():
        return 0.0
    return float(np.percentile(np.linalg.norm(means[0] - means[1], axis=2)[border], 10))


def _is_on(region: NDArray[np.bool_], card: NDArray[np.bool_]) -> bool:
    """Tell whether most of the card's surroundings belong to the garment."""
    around = cv2.dilate(card.astype(np.uint8), np.ones((5, 5), np.uint8)).astype(bool) & ~card
    return bool(around.any() and region[around].mean() > 0.8)

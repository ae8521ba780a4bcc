"""A garment or card while it is made: coverage, colour and height on a fine grid of millimetres.

The functions here draw *into* a layer; it is a canvas, and lives no longer than one photo's making.
"""

from dataclasses import dataclass

import cv2
import numpy as np

from maker.fields import Field, blurred, linear
from maker.outlines import Path, beside, resampled

Colour = tuple[float, float, float]


@dataclass(kw_only=True)
class Layer:
    """Fields of one flat thing, in its own upright frame with the origin in the middle.

    ``ground`` is 1 where the main cloth shows its face: where a pattern of the cloth can be.
    """

    px_per_mm: float
    middle_px: Path
    cover: Field
    colour: Field
    height: Field
    ground: Field

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.cover.shape[0], self.cover.shape[1]

    def px(self, points_mm: Path) -> Path:
        """Map millimetres to columns and rows."""
        return np.asarray(np.asarray(points_mm) * self.px_per_mm + self.middle_px)

    def mm(self, points_px: Path) -> Path:
        """Map columns and rows to millimetres."""
        return np.asarray((np.asarray(points_px) - self.middle_px) / self.px_per_mm)

    def window(self, points_mm: Path, margin_mm: float) -> tuple[slice, slice]:
        """Rows and columns around points."""
        points, margin = self.px(points_mm), margin_mm * self.px_per_mm
        low = np.clip(
            np.floor(points.min(axis=0) - margin).astype(int), 0, np.array(self.shape[::-1]) - 2
        )
        high = np.clip(np.ceil(points.max(axis=0) + margin).astype(int), low + 2, self.shape[::-1])
        return slice(low[1], high[1]), slice(low[0], high[0])

    def near(self, points_mm: Path, margin_mm: float = 8.0) -> "Layer":
        """View of the part around points: drawing into it draws into this layer."""
        rows, columns = self.window(points_mm, margin_mm)
        return Layer(
            px_per_mm=self.px_per_mm,
            middle_px=self.middle_px - [columns.start, rows.start],
            cover=self.cover[rows, columns],
            colour=self.colour[rows, columns],
            height=self.height[rows, columns],
            ground=self.ground[rows, columns],
        )


def make_layer(width_mm: float, height_mm: float, px_per_mm: float) -> Layer:
    """Make an empty layer."""
    shape = (round(height_mm * px_per_mm), round(width_mm * px_per_mm))
    zero = np.zeros(shape, np.float32)
    return Layer(
        px_per_mm=px_per_mm,
        middle_px=np.array([(shape[1] - 1) / 2, (shape[0] - 1) / 2]),
        cover=zero.copy(),
        colour=np.zeros((*shape, 3), np.float32),
        height=zero.copy(),
        ground=zero.copy(),
    )


def mask_of(layer: Layer, outline: Path) -> Field:
    """Share of each grid cell inside a closed outline."""
    picture = np.zeros(layer.shape, np.uint8)
    corners = np.round(layer.px(outline) * 16).astype(np.int32)
    cv2.fillPoly(picture, [corners], 255, cv2.LINE_AA, 4)
    return picture.astype(np.float32) / 255


def line_of(layer: Layer, path: Path, width_mm: float, *, close: bool = False) -> Field:
    """Share of each grid cell on a line."""
    picture = np.zeros(layer.shape, np.uint8)
    corners = np.round(layer.px(path) * 16).astype(np.int32)
    width = max(1, round(width_mm * layer.px_per_mm))
    cv2.polylines(picture, [corners], close, 255, width, cv2.LINE_AA, 4)
    return picture.astype(np.float32) / 255


def pillow(layer: Layer, mask: Field, edge_mm: float) -> Field:
    """Rise from 0 at the rim of a mask to 1 inside, as a folded edge of cloth does."""
    inside = (mask > 0.5).astype(np.uint8)
    depth = cv2.distanceTransform(inside, cv2.DIST_L2, 5) / np.float32(layer.px_per_mm)
    return np.asarray(1 - np.exp(-depth / np.float32(edge_mm)))


def lay_piece(
    layer: Layer,
    outline: Path,
    cloth: Field,
    *,
    lift_mm: float,
    thick_mm: float = 1.6,
    edge_mm: float = 3.0,
) -> Field:
    """Lay a piece of cloth over what is there; return its mask."""
    mask = mask_of(layer, outline)
    share = mask[..., None]
    layer.colour += share * (cloth - layer.colour)
    raised = lift_mm + thick_mm * pillow(layer, mask, edge_mm)
    layer.height += mask * (raised - layer.height)
    np.maximum(layer.cover, mask, out=layer.cover)
    return mask


def press(layer: Layer, path: Path, *, deep_mm: float, wide_mm: float) -> None:
    """Press a soft groove (or, with a negative depth, a ridge) along a path."""
    layer = layer.near(path, 4 * wide_mm + 2)
    mark = blurred(line_of(layer, path, wide_mm * 0.5), wide_mm * 0.5 * layer.px_per_mm)
    peak = float(mark.max()) or 1.0
    layer.height -= mark * np.float32(deep_mm / peak) * (layer.cover > 0)


def darken(layer: Layer, mark: Field, amount: float) -> None:
    """Darken the cloth under a mark."""
    layer.colour *= 1 - amount * mark[..., None]


def stitch(
    layer: Layer,
    path: Path,
    thread: Colour,
    *,
    inset_mm: float = 0.0,
    stitch_mm: float = 2.6,
    gap_mm: float = 0.7,
    width_mm: float = 0.45,
    pucker_mm: float = 0.25,
) -> None:
    """Sew a line of stitches along an open path, with the pucker that it pulls."""
    route = resampled(beside(path, inset_mm) if inset_mm else path, 0.25)
    layer = layer.near(route)
    per_stitch = max(2, round((stitch_mm + gap_mm) / 0.25))
    solid = max(1, round(stitch_mm / 0.25))
    marks = np.zeros(layer.shape, np.uint8)
    width = max(1, round(width_mm * layer.px_per_mm))
    for start in range(0, len(route) - solid, per_stitch):
        corners = np.round(layer.px(route[start : start + solid]) * 16).astype(np.int32)
        cv2.polylines(marks, [corners], False, 255, width, cv2.LINE_AA, 4)
    share = marks.astype(np.float32) / 255
    press(layer, route, deep_mm=pucker_mm, wide_mm=2.2)
    layer.colour += (0.9 * share * (layer.cover > 0.5))[..., None] * (linear(thread) - layer.colour)
    layer.height += 0.22 * blurred(share, 0.8)


def ribbed(
    layer: Layer, path: Path, width_mm: float, *, pitch_mm: float = 1.9, deep_mm: float = 0.35
) -> None:
    """Knit ribs across a band that lies to the right of a path."""
    layer = layer.near(path, width_mm + 4)
    inner = resampled(path, pitch_mm)
    outer = beside(inner, width_mm)
    lines = np.zeros(layer.shape, np.uint8)
    for start, end in zip(layer.px(inner), layer.px(outer), strict=True):
        ends = np.round(np.array([start, end]) * 16).astype(np.int32)
        cv2.polylines(
            lines, [ends], False, 255, max(1, round(0.5 * layer.px_per_mm)), cv2.LINE_AA, 4
        )
    mark = blurred(lines.astype(np.float32) / 255, 0.25 * layer.px_per_mm)
    layer.height -= deep_mm * mark * (layer.cover > 0.5)
    darken(layer, mark * (layer.cover > 0.5), 0.22)


def dome(
    layer: Layer,
    centre: tuple[float, float],
    radius_mm: float,
    colour: Colour,
    *,
    tall_mm: float = 1.4,
) -> None:
    """Set a snap (popper): a flat cap with a rounded rim and a dimple."""
    layer = layer.near(np.array([centre]), 2 * radius_mm)
    rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
    middle = layer.px(np.array(centre))
    off = np.hypot(columns - middle[0], rows - middle[1]) / np.float32(layer.px_per_mm)
    rim = np.clip((radius_mm + 0.6 - off) * layer.px_per_mm, 0, 1)
    cap = np.clip((radius_mm - off) * layer.px_per_mm + 0.5, 0, 1)
    share = off / radius_mm
    shape = np.where(
        share < 1, np.sqrt(np.clip(1 - share**4, 0, 1)) - 0.35 * np.exp(-((share / 0.45) ** 2)), 0
    )
    layer.ground *= 1 - cap
    darken(layer, rim * (1 - cap), 0.35)
    layer.height += cap * tall_mm * shape.astype(np.float32)
    layer.colour += cap[..., None] * (linear(colour) - layer.colour)

"""A garment put down by hand lies askew: a smooth shift of its parts, none at the motif."""

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np

from maker.fields import Field, bumps
from maker.layer import Layer
from maker.outlines import Path
from maker.printing import Box

CALM_MM = 8.0  # no shift this near to the motif, so that its box stays what it was
WAKE_MM = 70.0  # full shift from here on
REDUCED = 8  # the shift is smooth: worked out on a grid this much coarser


def settled(
    layer: Layer, rng: np.random.Generator, calm: Box | None, *, shift_mm: float = 5.0
) -> tuple[Layer, Callable[[Path], Path]]:
    """Shift a layer's parts; return it with the map of its points (mm)."""
    small = (layer.shape[0] // REDUCED + 1, layer.shape[1] // REDUCED + 1)
    scale = layer.px_per_mm / REDUCED
    strength = np.float32(shift_mm) * awake(layer, small, calm)
    dx = strength * bumps(rng, small, 100 * scale)
    dy = strength * bumps(rng, small, 100 * scale)
    size = layer.shape[::-1]
    shift_x, shift_y = (
        np.asarray(cv2.resize(part, size, interpolation=cv2.INTER_CUBIC)) for part in (dx, dy)
    )
    rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
    from_x, from_y = columns - layer.px_per_mm * shift_x, rows - layer.px_per_mm * shift_y

    def moved(field: Field) -> Field:
        return np.asarray(cv2.remap(field, from_x, from_y, cv2.INTER_LINEAR))

    def forward(points_mm: Path) -> Path:
        points = np.asarray(points_mm, float)
        target = points.copy()
        for _ in range(4):  # the shift varies slowly: settles to well below 0.1 mm
            cells = layer.px(target).astype(np.float32)
            shift = [
                cv2.remap(
                    part,
                    cells[:, 0],
                    cells[:, 1],
                    cv2.INTER_LINEAR,
                    borderMode=cv2.BORDER_REPLICATE,
                ).ravel()
                for part in (shift_x, shift_y)
            ]
            target = points + np.column_stack(shift)
        return target

    changed = replace(
        layer,
        cover=moved(layer.cover),
        colour=moved(layer.colour),
        height=moved(layer.height),
        ground=moved(layer.ground),
    )
    return changed, forward


def awake(layer: Layer, small: tuple[int, int], calm: Box | None) -> Field:
    """0 at the motif, 1 away from it."""
    if calm is None:
        return np.ones(small, np.float32)
    rows, columns = np.mgrid[: small[0], : small[1]] * REDUCED
    place = layer.mm(np.stack([columns, rows], axis=-1))
    left, top, right, bottom = calm
    off_x = np.maximum(np.maximum(left - place[..., 0], place[..., 0] - right), 0)
    off_y = np.maximum(np.maximum(top - place[..., 1], place[..., 1] - bottom), 0)
    share = np.clip((np.hypot(off_x, off_y) - CALM_MM) / WAKE_MM, 0, 1)
    return np.asarray(share * share * (3 - 2 * share), np.float32)

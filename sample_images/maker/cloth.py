"""Cloth as the camera sees it from above: knit, rib, weave and fleece, and how it lies in folds."""

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

import cv2
import numpy as np

from maker.fields import Field, Shape, bent, blurred, bumps, fractal, linear, ridges, slanted
from maker.layer import Colour, Layer
from maker.outlines import Path, resampled

Knit = Literal["jersey", "rib", "woven", "fleece", "slub"]


@dataclass(frozen=True, kw_only=True)
class Cloth:
    """What a piece is made of. ``marl`` mixes in fibres of a second colour (heather grey: 0.5)."""

    colour: Colour
    knit: Knit = "jersey"
    marl: float = 0.0
    marl_colour: Colour = (240, 240, 240)


def weave_cloth(
    cloth: Cloth, shape: Shape, px_per_mm: float, rng: np.random.Generator
) -> tuple[Field, Field]:
    """Make a cloth of a size: its colour in linear light, and its fine relief (mm)."""
    relief = KNITS[cloth.knit](shape, px_per_mm, rng)
    tone = (
        1
        + 0.045 * fractal(rng, shape, 55 * px_per_mm, 3)
        + 0.03 * bumps(rng, shape, 0.35 * px_per_mm)
    )
    tone = tone * (1 + np.float32(1.1) * (relief - relief.mean()))
    colour = linear(cloth.colour) * tone[..., None]
    if cloth.marl:
        share = marl(shape, px_per_mm, rng) * np.float32(cloth.marl)
        colour += share[..., None] * (linear(cloth.marl_colour) - colour)
    return colour.astype(np.float32), relief.astype(np.float32)


def marl(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Field:
    """Share of the second fibre: short streaks along the courses."""
    streaks = bumps(rng, shape, 3.2 * px_per_mm, 0.55 * px_per_mm)
    streaks = streaks + 0.6 * bumps(rng, shape, 1.0 * px_per_mm, 0.4 * px_per_mm)
    return np.clip(0.5 + 0.32 * streaks, 0, 1)


def stitches(
    shape: Shape, px_per_mm: float, rng: np.random.Generator, wale: float, course: float
) -> Field:
    """Relief of plain knitting seen from its face: columns of small v, 0..1."""
    rows, columns = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    drift = 0.8 * px_per_mm * bumps(rng, shape, 45 * px_per_mm)
    x = (columns + drift) / np.float32(wale * px_per_mm)
    side = np.abs(np.mod(x, 1) - 0.5) * 2  # 0 at the middle of a wale, 1 at its rims
    y = (rows + 0.8 * drift) / np.float32(course * px_per_mm) - 0.9 * side
    thread = 0.5 + 0.5 * np.cos(2 * np.pi * y)
    return np.asarray((0.35 + 0.65 * thread) * np.sqrt(np.clip(1 - side**3, 0, 1)), np.float32)


def jersey(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Field:
    """T-shirt knit."""
    return 0.15 * stitches(shape, px_per_mm, rng, 1.35, 0.95) + 0.015 * bumps(
        rng, shape, 0.5 * px_per_mm
    )


def slub(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Field:
    """Knit of uneven yarn."""
    uneven = bumps(rng, shape, 16 * px_per_mm, 0.7 * px_per_mm)
    return jersey(shape, px_per_mm, rng) + 0.02 * uneven


def rib(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Field:
    """Knit with upright ribs."""
    columns = np.arange(shape[1], dtype=np.float32)[None, :]
    drift = 1.2 * px_per_mm * bumps(rng, shape, 60 * px_per_mm)
    wave = np.cos(2 * np.pi * (columns + drift) / np.float32(2.6 * px_per_mm))
    return 0.11 * wave + 0.08 * stitches(shape, px_per_mm, rng, 1.3, 0.9)


def woven(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Field:
    """Plain weave."""
    warp = bumps(rng, shape, 0.55 * px_per_mm, 7 * px_per_mm)
    weft = bumps(rng, shape, 7 * px_per_mm, 0.55 * px_per_mm)
    return 0.010 * warp + 0.010 * weft


def fleece(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Field:
    """Brushed or looped cloth."""
    return 0.05 * bumps(rng, shape, 1.1 * px_per_mm) + 0.015 * fractal(rng, shape, 4 * px_per_mm, 3)


KNITS = {"jersey": jersey, "rib": rib, "woven": woven, "fleece": fleece, "slub": slub}


def crinkle(
    shape: Shape, px_per_mm: float, rng: np.random.Generator, *, deep_mm: float, lean_deg: float
) -> Field:
    """Height (mm) of cloth that was folded and worn: broad waves, soft creases, small puckers."""
    broad = slanted(rng, shape, 190 * px_per_mm, 70 * px_per_mm, lean_deg)
    sway_x = 9 * px_per_mm * bumps(rng, shape, 60 * px_per_mm)
    sway_y = 9 * px_per_mm * bumps(rng, shape, 60 * px_per_mm)
    height = 0.9 * broad
    for along, across, width, weight in [
        (150, 44, 0.20, 1.0),
        (80, 28, 0.26, 0.6),
        (45, 20, 0.3, 0.3),
    ]:
        lean = lean_deg + rng.uniform(-35, 35)
        lines = bent(
            slanted(rng, shape, along * px_per_mm, across * px_per_mm, lean), sway_x, sway_y
        )
        fades = np.clip(bumps(rng, shape, 80 * px_per_mm) * 0.7 + 0.25, 0, 1)
        height += weight * fades * ridges(lines, width)
    small = bent(
        slanted(rng, shape, 26 * px_per_mm, 10 * px_per_mm, lean_deg + 20), sway_x / 3, sway_y / 3
    )
    fades = np.clip(bumps(rng, shape, 50 * px_per_mm), 0, 1.5)
    height += 0.16 * fades * small
    return np.float32(deep_mm) * blurred(height.astype(np.float32), 1.2 * px_per_mm)


def drag_fold(layer: Layer, path: Path, *, tall_mm: float, wide_mm: float) -> None:
    """Raise one long fold along a path that is high at its start and fades out."""
    points = resampled(path, 1.0)
    layer = layer.near(points, 4 * wide_mm)
    size = tuple(max(4, side // 4) for side in layer.shape)
    ridge: Field = np.zeros(size, np.float32)
    scaled = layer.px(points) / 4
    for number, (begin, end) in enumerate(pairwise(scaled)):
        fade = np.sin(np.pi * min(1.0, 0.25 + 0.75 * number / len(points)))
        ends = np.round(np.array([begin, end]) * 16).astype(np.int32)
        line = np.zeros(size, np.uint8)
        cv2.polylines(line, [ends], False, 255, 2, cv2.LINE_AA, 4)
        np.maximum(ridge, line.astype(np.float32) * np.float32(fade / 255), out=ridge)
    ridge = cv2.GaussianBlur(ridge, (0, 0), wide_mm * layer.px_per_mm / 4)
    ridge = ridge * np.float32(tall_mm / (float(ridge.max()) or 1.0))
    layer.height += cv2.resize(ridge, layer.shape[::-1]) * (layer.cover > 0)

"""Things that lie about where someone sews: a tape measure, a pencil, a button."""

from collections.abc import Callable

import cv2
import numpy as np

from maker.fields import Field, blurred, bumps, linear
from maker.ink import words
from maker.layer import Colour, Layer, darken, lay_piece, line_of, make_layer, mask_of
from maker.outlines import Path, Raw, band, beside, curve, resampled
from maker.printing import filled

MakeProp = Callable[[float, np.random.Generator], Layer]

TAPE_MM = 16.0


def tape_measure(route: Raw, colour: Colour, *, first_cm: int = 1) -> MakeProp:
    """Make a tape measure that lies along a curve, numbered in centimetres."""

    def make(px_per_mm: float, rng: np.random.Generator) -> Layer:
        path = resampled(curve(route), 0.5)
        reach = 2 * float(np.abs(path).max() + TAPE_MM + 4)
        layer = make_layer(reach, reach, px_per_mm)
        left = beside(path, -TAPE_MM / 2)
        vinyl = linear(colour) * (1 + 0.02 * bumps(rng, layer.shape, 9 * px_per_mm))[..., None]
        lay_piece(layer, band(left, TAPE_MM), vinyl, lift_mm=0.5, thick_mm=0.3, edge_mm=0.4)
        wave = 1.3 + np.sin(np.linspace(0, 9, len(path)) + rng.uniform(0, 6))
        for at in range(0, len(path) - 1, 12):
            mark = mask_of(layer, band(left[at : at + 14], TAPE_MM))
            layer.height += 0.12 * wave[at] * mark
        layer.height = blurred(layer.height, 1.2 * px_per_mm)
        number_tape(layer, path, first_cm)
        return layer

    return make


def number_tape(layer: Layer, path: Path, first_cm: int) -> None:
    """Draw the ticks of every half centimetre and the number of every whole one."""
    rim, inner = beside(path, TAPE_MM / 2), beside(path, -TAPE_MM / 2)
    toward = inner - rim
    dark = np.zeros(layer.shape, np.float32)
    for number, at in enumerate(range(10, len(path) - 10, 10)):
        tall = 0.42 if number % 2 else 0.26
        ends = np.array([rim[at], rim[at] + tall * toward[at]])
        np.maximum(dark, line_of(layer, ends, 0.4), out=dark)
        if number % 2:
            ahead = path[at + 1] - path[at - 1]
            turn = np.arctan2(ahead[1], ahead[0])
            digits = words(str(first_cm + number // 2), height=5.2, at=(0, 0), bold=0.03)
            where = rim[at] + 0.7 * toward[at]
            np.maximum(dark, lettering(layer, digits, turn, where), out=dark)
    darken(layer, dark, 0.85)


def lettering(layer: Layer, digits: tuple[Path, ...], turn: float, where: Path) -> Field:
    """Turn lettering and put it somewhere."""
    cos, sin = np.cos(turn), np.sin(turn)
    matrix = np.array([[cos, sin], [-sin, cos]])
    return filled(layer, tuple(part @ matrix + where for part in digits))


def pencil(colour: Colour, *, long_mm: float = 158.0, wide_mm: float = 7.2) -> MakeProp:
    """Make a pencil, its point to the right."""

    def make(px_per_mm: float, rng: np.random.Generator) -> Layer:
        layer = make_layer(long_mm + 20, 3 * wide_mm, px_per_mm)
        rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
        place = layer.mm(np.stack([columns, rows], axis=-1)).astype(np.float32)
        along, across = place[..., 0] + np.float32(long_mm / 2), place[..., 1]
        sharpened = np.clip((long_mm - along) / 21, 0, 1)
        half = np.float32(wide_mm / 2) * np.where(along > long_mm - 21, 0.08 + 0.92 * sharpened, 1)
        inside = (along > 0) & (along < long_mm)
        layer.cover = np.where(inside, np.clip((half - np.abs(across)) * px_per_mm + 0.5, 0, 1), 0)
        layer.cover = layer.cover.astype(np.float32)
        face = np.abs(across) / np.maximum(half, 0.3)
        round_off = np.sqrt(np.clip(1 - face**2, 0, 1))
        layer.height = (half * (0.9 + 0.9 * np.minimum(round_off, 0.87))).astype(np.float32)
        layer.colour[:] = linear(colour)
        scallop = long_mm - 20 + 2.2 * np.abs(np.sin(across * np.float32(np.pi / 3.6)))
        for start, ink in [(scallop, (218, 178, 128)), (long_mm - 5.5, (58, 56, 58))]:
            part = (along > start)[..., None]
            layer.colour = np.where(part, linear(ink), layer.colour)
        wood = 1 + 0.04 * bumps(rng, layer.shape, 14 * px_per_mm, 0.4 * px_per_mm)
        layer.colour = (layer.colour * wood[..., None]).astype(np.float32)
        return layer

    return make


def button(colour: Colour, *, wide_mm: float = 17.0) -> MakeProp:
    """Make a button with four holes."""

    def make(px_per_mm: float, rng: np.random.Generator) -> Layer:
        layer = make_layer(wide_mm + 8, wide_mm + 8, px_per_mm)
        rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
        place = layer.mm(np.stack([columns, rows], axis=-1)).astype(np.float32)
        off = np.hypot(place[..., 0], place[..., 1])
        holes = np.min(
            [np.hypot(place[..., 0] - x, place[..., 1] - y) for x in (-2, 2) for y in (-2, 2)],
            axis=0,
        )
        layer.cover = np.clip((wide_mm / 2 - off) * px_per_mm + 0.5, 0, 1).astype(np.float32)
        rim = np.exp(-(((off - wide_mm * 0.4) / 1.5) ** 2))
        hole = np.clip((0.95 - holes) * px_per_mm + 0.5, 0, 1)
        layer.height = (1.8 + 0.9 * rim - 1.6 * hole).astype(np.float32)
        layer.colour[:] = linear(colour)
        layer.colour *= (1 - 0.75 * cv2.GaussianBlur(hole, (0, 0), 0.6))[..., None]
        return layer

    return make

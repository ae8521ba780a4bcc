"""What garments are laid on: each returns colour (linear light) and height (mm) over a grid."""

from collections.abc import Callable

import cv2
import numpy as np

from maker.cloth import Cloth, crinkle, weave_cloth
from maker.fields import Field, Shape, bent, blurred, bumps, fractal, linear, ridges, slanted
from maker.layer import Colour

Surface = tuple[Field, Field]
MakeSurface = Callable[[Shape, float, np.random.Generator], Surface]


def turned_grid(shape: Shape, px_per_mm: float, angle_deg: float) -> tuple[Field, Field]:
    """Coordinates (mm) along and across a direction."""
    rows, columns = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    x, y = columns / np.float32(px_per_mm), rows / np.float32(px_per_mm)
    cos, sin = np.float32(np.cos(np.deg2rad(angle_deg))), np.float32(np.sin(np.deg2rad(angle_deg)))
    return x * cos + y * sin, y * cos - x * sin


def planks(
    light: Colour,
    dark: Colour,
    *,
    plank_mm: float = 96.0,
    angle_deg: float = 4.0,
    gap_mm: float = 0.7,
) -> MakeSurface:
    """Wooden floor or table of planks."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        along, across = turned_grid(shape, px_per_mm, angle_deg)
        across = across + rng.uniform(0, plank_mm)
        row = np.floor(across / plank_mm).astype(int)
        row -= row.min()
        shift = rng.uniform(0, 900, row.max() + 1).astype(np.float32)
        length = 820.0
        piece = np.floor((along + shift[row]) / length).astype(int)
        piece -= piece.min()
        number = row * (piece.max() + 1) + piece
        tone = rng.normal(0, 1, number.max() + 1).astype(np.float32)[number]
        grain = wood_grain(shape, px_per_mm, rng, number, along, across, angle_deg)
        share = np.clip(0.45 + 0.20 * tone + 0.28 * grain, 0, 1)
        colour = linear(light) + share[..., None] * (linear(dark) - linear(light))
        pores = np.clip(
            slanted(rng, shape, 11 * px_per_mm, 0.45 * px_per_mm, -angle_deg) - 1.3, 0, 1
        )
        colour *= (1 - 0.28 * pores)[..., None]
        from_gap = np.minimum(np.mod(across, plank_mm), plank_mm - np.mod(across, plank_mm))
        from_end = np.mod(along + shift[row], length)
        from_gap = np.minimum(from_gap, np.minimum(from_end, length - from_end))
        gap = np.clip((gap_mm - from_gap) / 0.35 + 0.5, 0, 1)
        colour *= (1 - 0.80 * gap)[..., None]
        height = -1.1 * np.exp(-((from_gap / (1.1 * gap_mm)) ** 2)) + 0.03 * grain
        return colour.astype(np.float32), height.astype(np.float32)

    return make


def wood_grain(
    shape: Shape,
    px_per_mm: float,
    rng: np.random.Generator,
    number: Field,
    along: Field,
    across: Field,
    angle_deg: float,
) -> Field:
    """Year rings and fibres, different in each plank."""
    offset = rng.uniform(-400, 400, int(number.max()) + 1).astype(np.float32)[number]
    sway = 9 * slanted(rng, shape, 330 * px_per_mm, 45 * px_per_mm, -angle_deg)
    arch = 16 * np.cos((along + 3 * offset) * np.float32(2 * np.pi / 700))
    rings = np.sin((across + sway + offset + arch) * np.float32(2 * np.pi / 13.0))
    fibres = slanted(rng, shape, 90 * px_per_mm, 0.9 * px_per_mm, -angle_deg)
    streaks = slanted(rng, shape, 300 * px_per_mm, 8 * px_per_mm, -angle_deg)
    shown = np.clip(0.35 + 0.5 * streaks, 0, 1.2)
    return np.asarray(0.5 * (rings**2 - 0.5) * shown + 0.45 * fibres + 0.5 * streaks, np.float32)


def carpet(colour: Colour, *, tuft_mm: float = 2.6, tall_mm: float = 1.6) -> MakeSurface:
    """Cut-pile carpet with the marks of feet and of the vacuum cleaner."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        tufts = bumps(rng, shape, tuft_mm * px_per_mm) + 0.8 * bumps(
            rng, shape, 0.45 * tuft_mm * px_per_mm
        )
        tufts += 0.5 * bumps(rng, shape, 0.5 * px_per_mm)
        pile = fractal(rng, shape, 130 * px_per_mm, 3)
        tone = 1 + 0.13 * np.tanh(tufts) + 0.07 * np.tanh(1.5 * pile)
        flecks = 1 + 0.05 * bumps(rng, shape, 1.4 * px_per_mm)
        base = linear(colour) * (tone * flecks)[..., None]
        return base.astype(np.float32), (tall_mm * 0.2 * tufts + 0.8 * pile).astype(np.float32)

    return make


def quilted(
    cloth: Cloth, *, pitch_mm: float = 74.0, puff_mm: float = 7.0, angle_deg: float = 12.0
) -> MakeSurface:
    """Bed cover quilted in diamonds, with the puckers along its stitching."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        colour, relief = weave_cloth(cloth, shape, px_per_mm, rng)
        along, across = turned_grid(shape, px_per_mm, angle_deg)
        along = along + 2.2 * bumps(rng, shape, 90 * px_per_mm)
        across = across + 2.2 * bumps(rng, shape, 90 * px_per_mm)
        u, v = (along + across) / np.float32(1.41), (along - across) / np.float32(1.41)
        rise_u = np.abs(np.sin(np.pi * u / np.float32(pitch_mm)))
        rise_v = np.abs(np.sin(np.pi * v / np.float32(pitch_mm)))
        puff = (rise_u * rise_v) ** np.float32(0.42)
        pulled = np.exp(-np.minimum(rise_u, rise_v) * 3.2)
        pucker = bumps(rng, shape, 7 * px_per_mm) + 0.6 * bumps(rng, shape, 3.5 * px_per_mm)
        height = puff_mm * (puff - np.float32(0.75)) + 0.42 * pulled * pucker + 0.5 * relief
        height += crinkle(shape, px_per_mm, rng, deep_mm=0.9, lean_deg=rng.uniform(0, 90))
        seam = np.minimum(rise_u, rise_v) * np.float32(pitch_mm / np.pi)
        along_seam = np.where(rise_u < rise_v, v, u)
        dashes = (np.mod(along_seam, 3.4) < 2.4) & (seam < 0.35)
        thread = blurred(dashes.astype(np.float32), 0.2 * px_per_mm)
        colour *= (1 - 0.25 * np.exp(-((seam / 1.2) ** 2)) + 0.2 * thread)[..., None]
        return colour, height.astype(np.float32)

    return make


def sheet(cloth: Cloth, *, deep_mm: float = 2.4, lean_deg: float = 30.0) -> MakeSurface:
    """Plain bed sheet that was sat on."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        colour, relief = weave_cloth(cloth, shape, px_per_mm, rng)
        height = crinkle(shape, px_per_mm, rng, deep_mm=deep_mm, lean_deg=lean_deg)
        sway = 12 * px_per_mm * bumps(rng, shape, 90 * px_per_mm)
        lines = bent(
            slanted(rng, shape, 260 * px_per_mm, 75 * px_per_mm, lean_deg + 50), sway, -sway
        )
        height += (
            0.55
            * deep_mm
            * ridges(lines, 0.10)
            * np.clip(bumps(rng, shape, 150 * px_per_mm), 0, 1.2)
        )
        return colour, (blurred(height, 0.8 * px_per_mm) + 0.6 * relief).astype(np.float32)

    return make


def tiles(
    colour: Colour, grout: Colour, *, tile_mm: float = 298.0, angle_deg: float = -9.0
) -> MakeSurface:
    """Stoneware tiles with grey joints."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        along, across = turned_grid(shape, px_per_mm, angle_deg)
        along, across = along + rng.uniform(60, 240), across + rng.uniform(60, 240)
        number = np.floor(along / tile_mm).astype(int) * 7 + np.floor(across / tile_mm).astype(int)
        tone = rng.normal(0, 1, int(np.ptp(number)) + 1).astype(np.float32)[number - number.min()]
        clouds = bent(
            fractal(rng, shape, 120 * px_per_mm, 6, 0.6),
            40 * bumps(rng, shape, 300),
            40 * bumps(rng, shape, 300),
        )
        specks = np.clip(bumps(rng, shape, 0.8 * px_per_mm) - 1.7, 0, 1)
        shade = 1 + 0.035 * tone + 0.10 * clouds - 0.25 * specks
        base = linear(colour) * shade[..., None]
        u, v = np.mod(along, tile_mm), np.mod(across, tile_mm)
        from_joint = np.minimum(np.minimum(u, tile_mm - u), np.minimum(v, tile_mm - v))
        joint = np.clip((2.0 - from_joint) / 0.5 + 0.5, 0, 1)
        sandy = (
            1 + 0.10 * bumps(rng, shape, 0.9 * px_per_mm) + 0.10 * bumps(rng, shape, 18 * px_per_mm)
        )
        base += joint[..., None] * (linear(grout) * sandy[..., None] - base)
        height = -1.6 * np.clip((3.2 - from_joint) / 2.4, 0, 1) ** 1.5 + 0.05 * clouds
        return base.astype(np.float32), height.astype(np.float32)

    return make


def knitted_blanket(
    colour: Colour, *, wale_mm: float = 15.0, angle_deg: float = 20.0
) -> MakeSurface:
    """Chunky hand-knitted blanket in plain stitch."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        along, across = turned_grid(shape, px_per_mm, angle_deg)
        along = along + 1.6 * bumps(rng, shape, 60 * px_per_mm)
        across = across + 1.6 * bumps(rng, shape, 60 * px_per_mm)
        x = np.abs(np.mod(along / np.float32(wale_mm), 1) - 0.5) * 2
        y = np.mod(across / np.float32(0.72 * wale_mm) - 0.85 * x, 1)
        loop = np.sin(np.pi * y) ** np.float32(0.8) * np.sqrt(
            np.clip(1 - (2 * x - 1) ** 2, 0.02, 1)
        )
        plies = np.sin(
            (across * 2.2 + along * np.where(np.mod(along / wale_mm, 1) > 0.5, 2.4, -2.4))
            * np.float32(2.0)
        )
        fuzz = bumps(rng, shape, 0.5 * px_per_mm) + 0.6 * bumps(rng, shape, 1.2 * px_per_mm)
        tone = 0.42 + 0.62 * loop + 0.05 * plies * loop + 0.05 * fuzz
        height = (
            2.6 * loop
            + 0.10 * plies * loop
            + 0.10 * fuzz
            + 1.0 * bumps(rng, shape, 120 * px_per_mm)
        )
        return (linear(colour) * tone[..., None]).astype(np.float32), blurred(
            height.astype(np.float32), 0.3 * px_per_mm
        )

    return make


def striped_cloth(
    make: MakeSurface, ink: Colour, *, pitch_mm: float, share: float, angle_deg: float
) -> MakeSurface:
    """Make the same surface with woven stripes."""

    def make_striped(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        colour, height = make(shape, px_per_mm, rng)
        along, _ = turned_grid(shape, px_per_mm, angle_deg)
        along = along + 1.5 * bumps(rng, shape, 120 * px_per_mm)
        phase = np.abs(np.mod(along / np.float32(pitch_mm), 1) - 0.5)
        stripe = np.clip((share / 2 - phase) * pitch_mm * px_per_mm / 2 + 0.5, 0, 1)
        tone = colour.mean(axis=-1, keepdims=True) / colour.mean()
        colour += 0.85 * stripe[..., None] * (linear(ink) * tone - colour)
        return colour, height

    return make_striped


def table_top(colour: Colour) -> MakeSurface:
    """Painted or laminated table: almost plain, a few scuffs."""

    def make(shape: Shape, px_per_mm: float, rng: np.random.Generator) -> Surface:
        clouds = fractal(rng, shape, 200 * px_per_mm, 4)
        peel = bumps(rng, shape, 1.6 * px_per_mm)
        scuffs = np.clip(
            slanted(rng, shape, 60 * px_per_mm, 0.6 * px_per_mm, rng.uniform(0, 180)) - 2.6, 0, 1
        )
        tone = 1 + 0.03 * clouds - 0.15 * scuffs
        return (linear(colour) * tone[..., None]).astype(np.float32), (0.012 * peel).astype(
            np.float32
        )

    return make


def cushioned(height: Field, px_per_mm: float, reach_mm: float = 13.0) -> Field:
    """Height that a cloth or a sheet of paper bridges when it lies on a surface."""
    lifted = cv2.dilate(blurred(height, 1.5 * px_per_mm), np.ones((3, 3), np.uint8), iterations=2)
    return blurred(np.asarray(lifted, np.float32), reach_mm * px_per_mm)

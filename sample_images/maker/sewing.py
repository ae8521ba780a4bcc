"""Cutting, sewing, ribbing and folding: what every garment is made with."""

from dataclasses import dataclass

import numpy as np

from maker.cloth import Cloth, crinkle, drag_fold, weave_cloth
from maker.fields import Field, blurred, bumps, linear
from maker.layer import (
    Colour,
    Layer,
    darken,
    lay_piece,
    line_of,
    make_layer,
    mask_of,
    pillow,
    press,
    ribbed,
    stitch,
)
from maker.outlines import Path, band, beside, curve, stretched

FRONT_MM = 2.2  # height of the front layer's rim above the table


@dataclass(frozen=True, kw_only=True)
class Style:
    """How a garment is made and how it lies."""

    cloth: Cloth
    trim: Cloth
    thread: Colour = (230, 230, 226)
    snap: Colour = (222, 222, 220)
    size: float = 1.0
    folds_mm: float = 1.2
    lean_deg: float = 70.0
    px_per_mm: float = 5.0


@dataclass(kw_only=True)
class Work:
    """A garment in the making: its layer, its bolts of cloth and its own random numbers."""

    layer: Layer
    style: Style
    rng: np.random.Generator
    main: Field
    main_relief: Field
    trim: Field
    trim_relief: Field

    def wobbly(self, outline: Path, amount_mm: float = 1.3) -> Path:
        """Nothing soft has a straight edge: sway an outline slowly."""
        travelled = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(outline, axis=0).T))])
        sway = np.zeros_like(outline)
        for pitch_mm, share in [(34.0, 0.6), (12.0, 0.12)]:
            knots = np.arange(0, travelled[-1] + pitch_mm, pitch_mm)
            for axis in (0, 1):
                smooth = curve(np.column_stack([knots, self.rng.normal(0, share, len(knots))]))
                sway[:, axis] += np.interp(travelled, *smooth.T)
        calm = np.clip(np.minimum(travelled, travelled[-1] - travelled) / 25, 0, 1)[:, None]
        return np.asarray(outline + amount_mm * calm * sway)

    def piece(
        self,
        outline: Path,
        *,
        lift_mm: float = FRONT_MM,
        trim: bool = False,
        dim: float = 1.0,
        edge_mm: float = 3.5,
    ) -> Field:
        """Lay a piece of the main cloth or of the trim."""
        cloth, relief = (self.trim, self.trim_relief) if trim else (self.main, self.main_relief)
        mask = lay_piece(
            self.layer, outline, cloth * np.float32(dim), lift_mm=lift_mm, edge_mm=edge_mm
        )
        if dim == 1.0:
            np.maximum(self.layer.ground, mask, out=self.layer.ground)
        self.layer.height += mask * relief
        return mask

    def rib_band(
        self,
        path: Path,
        width_mm: float,
        *,
        lift_mm: float = 0.9,
        seam: bool = True,
        around: bool = False,
    ) -> None:
        """Sew a ribbed band to the right of a path, with the seam line beside it.

        The band ends where the piece under it ends; going all the way ``around``, it has none.
        """
        path = path if around else stretched(path, 7.0)
        window = self.layer.window(band(path, width_mm), 14.0)
        part = self.layer.near(band(path, width_mm), 14.0)
        mask = mask_of(part, band(path, width_mm)) * part.cover
        part.ground *= 1 - mask
        part.colour += mask[..., None] * (self.trim[window] - part.colour)
        base = blurred(part.height, 3 * part.px_per_mm)
        raised = (
            base
            + lift_mm * np.sqrt(np.clip(pillow(part, mask, 1.4), 0, 1))
            + self.trim_relief[window]
        )
        part.height += mask * (raised - part.height)
        ribbed(self.layer, path, width_mm)
        press(self.layer, beside(path, width_mm), deep_mm=0.6, wide_mm=1.4)
        if seam:
            stitch(self.layer, beside(path, width_mm + 2.2), self.style.thread, stitch_mm=2.2)

    def cuff(self, path: Path, width_mm: float) -> None:
        """Rib the end of a sleeve or leg: from beyond its rim, so that none of it stays bare."""
        self.rib_band(beside(path, -4.0), width_mm + 4.0)

    def hem(self, path: Path, width_mm: float) -> None:
        """Turn a hem up to the right of a path: a double row of stitches and a slight step."""
        part = self.layer.near(band(path, width_mm), 10.0)
        strip = mask_of(part, band(path, width_mm))
        part.height += 0.35 * blurred(strip, 0.6 * part.px_per_mm) * (part.cover > 0)
        for inset in (width_mm - 1.0, width_mm + 3.0):
            stitch(self.layer, beside(path, inset), self.style.thread, stitch_mm=2.6)
        ripple = bumps(self.rng, part.shape, 6 * part.px_per_mm)
        near = blurred(line_of(part, beside(path, width_mm * 0.5), width_mm), 2 * part.px_per_mm)
        part.height += 0.18 * near * ripple

    def seam(self, path: Path, *, deep_mm: float = 0.9, topstitch: bool = False) -> None:
        """Join two panels: a groove with the seam allowance's ridge behind it."""
        press(self.layer, path, deep_mm=deep_mm, wide_mm=1.2)
        press(self.layer, beside(path, 2.6), deep_mm=-0.4, wide_mm=4.0)
        part = self.layer.near(path)
        darken(part, blurred(line_of(part, path, 0.4), 0.3 * part.px_per_mm), 0.35)
        if topstitch:
            stitch(self.layer, beside(path, 2.4), self.style.thread)

    def label(self, centre: tuple[float, float], colour: Colour = (240, 238, 232)) -> None:
        """Sew a size label in at the back of the neck."""
        x, y = centre
        outline = np.array([(x - 9, y), (x + 9, y), (x + 9, y + 13), (x - 9, y + 13)])
        part = self.layer.near(outline)
        mask = mask_of(part, outline)
        part.colour += mask[..., None] * (linear(colour) * np.float32(0.7) - part.colour)
        part.height += 0.4 * mask
        for row in (4.0, 6.5, 9.0):
            line = line_of(
                part, np.array([(x - 5.5 + row % 2, y + row), (x + 5 - row % 3, y + row)]), 0.7
            )
            darken(part, line, 0.45)

    def storage_creases(self) -> Field:
        """Height of the two sharp folds that a drawer leaves: one level, one upright."""
        layer = self.layer
        rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
        place = layer.mm(np.stack([columns, rows], axis=-1)).astype(np.float32)
        height = np.zeros(layer.shape, np.float32)
        for across, where in [
            (place[..., 1], self.rng.uniform(10, 60)),
            (place[..., 0], self.rng.uniform(-22, 22)),
        ]:
            off = np.abs(
                across
                - np.float32(where)
                + 1.2 * bumps(self.rng, layer.shape, 60 * layer.px_per_mm)
            )
            fades = np.clip(0.7 + 0.5 * bumps(self.rng, layer.shape, 90 * layer.px_per_mm), 0, 1.2)
            height += fades * (0.75 * np.exp(-off / 2.6) + 0.5 * np.exp(-off / 11))
        return blurred(height, 0.35 * layer.px_per_mm) * np.float32(0.55 * self.style.folds_mm)

    def finish(self, *pulls: tuple[Path, float, float]) -> Layer:
        """Let it fall into folds; ``pulls`` are drag folds (path, height, width in mm)."""
        layer, style = self.layer, self.style
        folds = crinkle(
            layer.shape, layer.px_per_mm, self.rng, deep_mm=style.folds_mm, lean_deg=style.lean_deg
        )
        rim = pillow(layer, layer.cover, 9.0)
        layer.height += folds * (0.25 + 0.75 * rim) * (layer.cover > 0)
        layer.height += self.storage_creases() * (0.15 + 0.85 * rim) * (layer.cover > 0)
        for path, tall, wide in pulls:
            drag_fold(layer, path * style.size, tall_mm=tall, wide_mm=wide)
        layer.height = np.maximum(layer.height, 0.3) * layer.cover
        return layer


def start(style: Style, width_mm: float, height_mm: float, rng: np.random.Generator) -> Work:
    """Spread an empty layer and cut cloth for it."""
    layer = make_layer(width_mm * style.size, height_mm * style.size, style.px_per_mm)
    main, main_relief = weave_cloth(style.cloth, layer.shape, style.px_per_mm, rng)
    trim, trim_relief = weave_cloth(style.trim, layer.shape, style.px_per_mm, rng)
    return Work(
        layer=layer,
        style=style,
        rng=rng,
        main=main,
        main_relief=main_relief,
        trim=trim,
        trim_relief=trim_relief,
    )


def neck(work: Work, front: Path, back: Path, shoulders: Path, *, width_mm: float = 13.0) -> None:
    """Back of the neck seen through the opening; the front's rib follows once the front lies."""
    inside = np.vstack([back, front[::-1]])
    work.piece(inside, lift_mm=0.5, dim=0.62)
    work.rib_band(back, width_mm * 0.9, lift_mm=0.4, seam=False)

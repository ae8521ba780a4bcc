"""The coded card and a sticky note, as they come out of printer, scissors and pad."""

from dataclasses import dataclass
from typing import Literal

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from maker.fields import Field, blurred, bumps, fractal, linear
from maker.layer import Colour, Layer, make_layer, mask_of
from maker.outlines import Path

MODULES = 8  # of a 36h11 marker along its black border
TEXT_STRIP_MM = 17.0


@dataclass(frozen=True, kw_only=True)
class Paper:
    """A reference: the coded card of this side, or a plain square."""

    kind: Literal["card", "square"] = "card"
    side_mm: float = 101.6
    label: str = "4 in"
    colour: Colour = (246, 245, 241)
    curl_mm: float = 1.0

    @property
    def marker_id(self) -> int:
        """Ids 10..299 are millimetres; 300 + n are n sixteenths of an inch."""
        whole_mm = abs(self.side_mm - round(self.side_mm)) < 1e-6
        return round(self.side_mm) if whole_mm else 300 + round(self.side_mm / 25.4 * 16)

    def square_mm(self) -> Path:
        """Corners of the reference square, clockwise from its top-left."""
        half = self.side_mm / 2
        return np.array([[-half, -half], [half, -half], [half, half], [-half, half]])

    def sheet_mm(self, rng: np.random.Generator) -> Path:
        """Corners of the paper; scissors are never quite true."""
        if self.kind == "square":
            return self.square_mm()
        out = self.side_mm / 2 + self.side_mm / MODULES + 2
        corners = np.array(
            [[-out, -out], [out, -out], [out, out + TEXT_STRIP_MM], [-out, out + TEXT_STRIP_MM]]
        )
        return corners + rng.uniform(-0.9, 0.9, (4, 2))


def make_paper(paper: Paper, px_per_mm: float, rng: np.random.Generator) -> Layer:
    """Draw the paper on a layer of its own; its height is curl only."""
    reach = 2 * (paper.side_mm * 0.66 + TEXT_STRIP_MM + 6)
    layer = make_layer(reach, reach, px_per_mm)
    outline = paper.sheet_mm(rng)
    layer.cover = mask_of(layer, outline)
    tooth = (
        1
        + 0.012 * bumps(rng, layer.shape, 0.6 * px_per_mm)
        + 0.01 * fractal(rng, layer.shape, 40 * px_per_mm, 3)
    )
    layer.colour = (linear(paper.colour) * tooth[..., None]).astype(np.float32)
    if paper.kind == "card":
        ink = printed(paper, layer)
        solid = (
            linear((41, 39, 42))
            * (1 + 0.05 * bumps(rng, layer.shape, 14 * px_per_mm, 0.5 * px_per_mm))[..., None]
        )
        layer.colour += ink[..., None] * (solid.astype(np.float32) - layer.colour)
        layer.height = curl(paper, layer, corner=int(rng.integers(4)))
    else:
        layer.height = note_curl(paper, layer)
    layer.height += 0.18
    return layer


def printed(paper: Paper, layer: Layer) -> Field:
    """Share of ink: the marker, a line of text and a little ruler to check the print by."""
    side = round(paper.side_mm * layer.px_per_mm / MODULES) * MODULES
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    marker = cv2.aruco.generateImageMarker(family, paper.marker_id, MODULES)
    cells = (
        1
        - cv2.resize(marker, (side, side), interpolation=cv2.INTER_NEAREST).astype(np.float32) / 255
    )
    corners = layer.px(paper.square_mm()[:3]).astype(np.float32)
    source = np.array([[-0.5, -0.5], [side - 0.5, -0.5], [side - 0.5, side - 0.5]], np.float32)
    size = (layer.shape[1], layer.shape[0])
    ink = cv2.warpAffine(
        cells, cv2.getAffineTransform(source, corners), size, flags=cv2.INTER_LINEAR
    )
    return np.clip(np.asarray(ink, np.float32) + captions(paper, layer), 0, 1)


def captions(paper: Paper, layer: Layer) -> Field:
    """Text and ruler under the marker."""
    picture = Image.new("L", layer.shape[::-1], 0)
    draw = ImageDraw.Draw(picture)
    scale = layer.px_per_mm
    top = paper.side_mm / 2 + paper.side_mm / MODULES - 3
    left, at = layer.px(np.array([-paper.side_mm / 2, top]))
    draw.text((left, at), f"motiffit card  {paper.label}", 235, ImageFont.load_default(4.6 * scale))
    draw.text((left, at + 6 * scale), "print at 100 %", 170, ImageFont.load_default(3.1 * scale))
    step = 25.4 / 8 if paper.label.endswith("in") else 5.0
    base = at + 15.0 * scale
    right = left + paper.side_mm * scale
    draw.line([(left, base), (right, base)], 225, max(1, round(0.35 * scale)))
    for number in range(round(paper.side_mm / step) + 1):
        x = left + number * step * scale
        tall = (4.2 if number % (8 if step < 5 else 10) == 0 else 2.2) * scale
        draw.line([(x, base - tall), (x, base)], 225, max(1, round(0.3 * scale)))
    return np.asarray(picture, np.float32) / 255


def curl(paper: Paper, layer: Layer, *, corner: int) -> Field:
    """Height of a sheet whose one corner has come up a little."""
    towards = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])[corner] / np.sqrt(2)
    rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
    xy = layer.mm(np.stack([columns, rows], axis=-1)).astype(np.float32)
    along = (xy @ towards.astype(np.float32)) / np.float32(paper.side_mm * 0.9)
    return np.asarray(np.float32(paper.curl_mm) * np.clip(along, 0, None) ** 2)


def note_curl(paper: Paper, layer: Layer) -> Field:
    """Lift a sticky note at the edge away from its glue (below)."""
    rows = (np.arange(layer.shape[0], dtype=np.float32) - layer.shape[0] / 2) / np.float32(
        layer.px_per_mm
    )
    share = np.clip(rows / paper.side_mm + 0.15, 0, None)
    return np.repeat((np.float32(paper.curl_mm) * 2.2 * share**2)[:, None], layer.shape[1], axis=1)


def softened_edge(layer: Layer) -> None:
    """Round the cut edge's shading off over a tenth of a millimetre."""
    layer.cover = blurred(layer.cover, 0.08 * layer.px_per_mm)

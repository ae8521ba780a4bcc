"""Lay surface, garment and paper on each other, light them and take the picture."""

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from maker.fields import Field, blurred
from maker.layer import Layer
from maker.outlines import Path
from maker.paper import Paper, make_paper
from maker.photo import Camera, Light, developed, lit, metered, seen
from maker.props import MakeProp
from maker.surfaces import MakeSurface, cushioned


@dataclass(frozen=True, kw_only=True)
class Spot:
    """Where a layer lies on the table, and how far it is turned clockwise."""

    centre_mm: tuple[float, float]
    turn_deg: float

    def place(self, own_mm: Path) -> Path:
        """Map a layer's own millimetres to the table's."""
        cos, sin = np.cos(np.deg2rad(self.turn_deg)), np.sin(np.deg2rad(self.turn_deg))
        return np.asarray(np.asarray(own_mm) @ np.array([[cos, sin], [-sin, cos]]) + self.centre_mm)


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Everything about a photo but the garment itself."""

    surface: MakeSurface
    camera: Camera
    light: Light = field(default_factory=Light)
    garment_at: Spot
    paper: Paper | None = None
    paper_at: Spot | None = None
    props: tuple[tuple[MakeProp, Spot], ...] = ()
    seed: int = 1
    px_per_mm: float = 4.8


@dataclass(frozen=True, kw_only=True)
class Taken:
    """A photo and the heights (mm above the table's zero) that its truth needs."""

    picture: NDArray[np.uint8]
    height: Field
    px_per_mm: float
    origin_mm: Path

    def height_at(self, points_mm: Path) -> Path:
        """Height of the topmost thing at points of the table."""
        cells = (np.asarray(points_mm, float) - self.origin_mm) * self.px_per_mm
        picked = cv2.remap(
            self.height,
            cells[:, 0].astype(np.float32),
            cells[:, 1].astype(np.float32),
            cv2.INTER_LINEAR,
        )
        return np.asarray(picked, float).ravel()


def take(setting: Setting, garment: Layer) -> Taken:
    """Take the photo."""
    rng = np.random.default_rng(setting.seed)
    camera, scale = setting.camera, setting.px_per_mm
    origin, shape = extent(camera, scale)
    colour, height = setting.surface(shape, scale, rng)
    cushion = cushioned(height, scale)
    lay(colour, height, garment, setting.garment_at, scale, origin, cushion)
    if setting.paper is not None and setting.paper_at is not None:
        paper = make_paper(setting.paper, 7.0, rng)
        flat = np.full_like(height, level_under(cushion, setting, scale, origin, height))
        lay(colour, height, paper, setting.paper_at, scale, origin, flat)
    for make_prop, spot in setting.props:
        lay(colour, height, make_prop(5.0, rng), spot, scale, origin, cushion)
    radiance = lit(colour, height, scale, setting.light, rng)
    raw = metered(seen(radiance, height, scale, origin, camera))
    picture = developed(raw, setting.light, rng)
    return Taken(picture=picture, height=height, px_per_mm=scale, origin_mm=origin)


def extent(camera: Camera, px_per_mm: float) -> tuple[Path, tuple[int, int]]:
    """Part of the table that the photo shows, with a rim: its first corner and its grid."""
    rays = camera.rays()[:: camera.height_px - 1, :: camera.width_px - 1].reshape(-1, 2)
    corners = camera.position_mm[:2] - camera.position_mm[2] * rays
    low, high = corners.min(axis=0) - 12, corners.max(axis=0) + 12
    columns, rows = np.ceil((high - low) * px_per_mm).astype(int)
    return low, (int(rows), int(columns))


def lay(
    colour: Field,
    height: Field,
    layer: Layer,
    spot: Spot,
    px_per_mm: float,
    origin_mm: Path,
    base: Field,
) -> None:
    """Lay a thing on what is there: its colour covers, its height adds to what it bridges."""
    own = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    source = layer.px(own).astype(np.float32)
    target = ((spot.place(own) - origin_mm) * px_per_mm).astype(np.float32)
    matrix = cv2.getAffineTransform(source, target)
    size = (height.shape[1], height.shape[0])
    softer = 0.35 * layer.px_per_mm / px_per_mm

    def onto(part: Field) -> Field:
        return np.asarray(
            cv2.warpAffine(blurred(part, softer), matrix, size, flags=cv2.INTER_LINEAR)
        )

    cover = onto(layer.cover)
    colour += cover[..., None] * (onto(layer.colour) - colour)
    height += cover * (base + onto(layer.height) - height)


def level_under(
    cushion: Field, setting: Setting, px_per_mm: float, origin_mm: Path, height: Field
) -> np.float32:
    """Level at which stiff paper comes to lie: on the higher of what is below it."""
    assert setting.paper is not None
    assert setting.paper_at is not None
    reach = setting.paper.side_mm * 0.55
    column, row = ((np.array(setting.paper_at.centre_mm) - origin_mm) * px_per_mm).astype(int)
    half = int(reach * px_per_mm)
    under = height[max(row - half, 0) : row + half, max(column - half, 0) : column + half]
    return np.float32(np.percentile(under, 90))

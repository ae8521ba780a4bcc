"""Photos drawn from known truth: a card, a garment and its motif on a table, through a lens.

Everything that is measured (card, square, garment, motif) is a polygon in millimetres. Its outline
goes through the camera point by point and is filled with the exact share of each pixel that it
covers; the marker's modules are averaged exactly over each pixel's footprint. So edges lie where
the truth says, to about 0.02 px. Texture, light and noise are for show and carry no truth.

Light is added up and blurred in linear light and then encoded as sRGB (IEC 61966-2-1), as a camera
does. Blur before encoding moves a black-white edge towards the black as read at half height in
grey levels: whoever wants the true edge must undo the encoding first.

Frames. *mm*: the table, origin wherever the scene says (the first reference is at (0, 0) unless it
is moved), x and y along the photo's right and down at the middle of the picture. Heights count
upwards from the table. *px*: (0, 0) is the centre of the top-left pixel.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property
from pathlib import Path
from typing import Literal

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image

from motiffit.marker import marker_id_for

Points = NDArray[np.float64]
Colour = tuple[float, float, float]
Polygon = tuple[tuple[float, float], ...]

DIAGONAL_35MM = 43.27  # mm, of the 36 x 24 frame that "35 mm equivalent" refers to
MARGIN_MODULES = 1  # white round the marker, design.md
STEP_MM = 12.0  # outlines are cut into pieces this long: the lens bends one by < 0.005 px


@dataclass(frozen=True, kw_only=True)
class Camera:
    """A pinhole with one radial distortion term: r focal lengths are seen at r (1 + k r^2).

    ``tilt_deg`` is the angle between the axis and the table's normal; ``azimuth_deg`` is where the
    camera stands as seen from the point aimed at (0: to the right, 90: towards the bottom).
    """

    width_px: int = 1613
    height_px: int = 1209
    focal_35mm: float = 26.0
    tilt_deg: float = 0.0
    azimuth_deg: float = 90.0
    distance_mm: float = 620.0
    aim_mm: tuple[float, float] = (0.0, 0.0)
    distortion: float = 0.0

    @property
    def focal_px(self) -> float:
        return self.focal_35mm / DIAGONAL_35MM * float(np.hypot(self.width_px, self.height_px))

    @property
    def middle_px(self) -> Points:
        return np.array([self.width_px - 1, self.height_px - 1]) / 2

    @cached_property
    def position_mm(self) -> Points:
        """Where the lens is: x, y, z, with z pointing into the table."""
        tilt, azimuth = np.deg2rad([self.tilt_deg, self.azimuth_deg])
        away = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth)])
        return np.array(
            [*(np.array(self.aim_mm) + away * self.distance_mm), -np.cos(tilt) * self.distance_mm]
        )

    @cached_property
    def rotation(self) -> Points:
        """Rows: the camera's right, down and forward in the table's frame."""
        forward = np.array([*self.aim_mm, 0.0]) - self.position_mm
        forward /= np.linalg.norm(forward)
        right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(forward, right), forward])

    def project(self, points_mm: Points, height_mm: float | Points = 0.0) -> Points:
        """Map points of the table, raised by a height, to the photo."""
        points = np.atleast_2d(np.asarray(points_mm, dtype=float))
        heights = np.broadcast_to(height_mm, len(points))
        seen = (np.column_stack([points, -heights]) - self.position_mm) @ self.rotation.T
        if (seen[:, 2] <= 0).any():
            raise ValueError("a point lies behind the camera")
        flat = seen[:, :2] / seen[:, 2:]
        bent = flat * (1 + self.distortion * squared(flat))
        return bent * self.focal_px + self.middle_px

    def unproject(self, points_px: Points, height_mm: float | Points = 0.0) -> Points:
        """Map points of the photo to the plane at a height above the table."""
        bent = (np.atleast_2d(np.asarray(points_px, dtype=float)) - self.middle_px) / self.focal_px
        flat = bent
        for _ in range(6):  # a fixed point; each step gains a factor of about 2 k r^2 < 0.03
            flat = bent / (1 + self.distortion * squared(flat))
        rays = np.column_stack([flat, np.ones(len(flat))]) @ self.rotation
        reach = (-np.broadcast_to(height_mm, len(flat)) - self.position_mm[2]) / rays[:, 2]
        return self.position_mm[:2] + reach[:, None] * rays[:, :2]


@dataclass(frozen=True, kw_only=True)
class Reference:
    """A coded card or a plain square. ``curl_mm`` lifts its bottom-right corner off the table."""

    kind: Literal["card", "square"] = "card"
    side_mm: float = 101.6
    centre_mm: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 7.3
    height_mm: float = 0.0
    curl_mm: float = 0.0
    paper: Colour = (243, 242, 238)
    ink: Colour = (34, 33, 35)
    marker_id: int | None = None

    @property
    def edge_mm(self) -> float:
        """Side of the paper: the card has a white margin round the square, a plain square none."""
        return self.side_mm * (1 + 2 * MARGIN_MODULES / 8) if self.kind == "card" else self.side_mm

    def lift_mm(self, own_mm: Points) -> Points:
        """Height above the table at points of its own frame (a smooth bend of one corner)."""
        along = np.clip(own_mm.sum(axis=1) / self.edge_mm, 0.0, 1.0)  # 1 at the corner
        return self.height_mm + self.curl_mm * along**2

    def place(self, camera: Camera, own_mm: Points) -> Points:
        """Map points of its own frame to the photo."""
        return camera.project(turned(own_mm, self.turn_deg) + self.centre_mm, self.lift_mm(own_mm))

    def own_mm(self, camera: Camera, points_px: Points) -> Points:
        """Map points of the photo to its own frame."""
        own = np.zeros_like(points_px, dtype=float)
        for _ in range(4 if self.curl_mm else 1):  # the bend moves a point by < 1 mm: settles fast
            table = camera.unproject(points_px, self.lift_mm(own))
            own = turned(table - self.centre_mm, -self.turn_deg)
        return own


@dataclass(frozen=True, kw_only=True)
class Motif:
    """Shapes of one motif in the garment's own upright frame (mm)."""

    shapes: tuple[Polygon, ...]
    ink: Colour = (196, 62, 48)

    @property
    def box_mm(self) -> tuple[float, float, float, float]:
        """Tight box: left, top, right, bottom."""
        points = np.concatenate([np.array(shape) for shape in self.shapes])
        (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
        return float(left), float(top), float(right), float(bottom)


@dataclass(frozen=True, kw_only=True)
class Garment:
    """A flat shape lying at a height above the table, turned clockwise by ``turn_deg``.

    ``ground`` are shapes of the cloth's pattern (stripes, dots); they are no motif.
    """

    outline: Polygon
    centre_mm: tuple[float, float] = (230.0, 20.0)
    turn_deg: float = -5.2
    height_mm: float = 3.0
    cloth: Colour = (150, 178, 196)
    ground: tuple[Polygon, ...] = ()
    ground_ink: Colour = (222, 226, 214)

    def place_mm(self, own_mm: Sequence[tuple[float, float]] | Points) -> Points:
        """Map points of its own frame to the table."""
        return turned(np.asarray(own_mm, dtype=float), self.turn_deg) + self.centre_mm


@dataclass(frozen=True, kw_only=True)
class Light:
    """How the photo is lit and taken."""

    brightness: float = 0.9
    gradient: float = 0.25
    direction_deg: float = 200.0
    blur_px: float = 0.8
    noise: float = 1.5
    texture: float = 0.06
    table: Colour = (128, 104, 82)


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What is in front of the camera."""

    camera: Camera = Camera()
    references: tuple[Reference, ...] = (Reference(),)
    garment: Garment | None = None
    motifs: tuple[Motif, ...] = ()
    light: Light = Light()
    seed: int = 1


@dataclass(frozen=True, kw_only=True)
class MotifTruth:
    """A motif's tight box in the garment's upright frame; corners clockwise from its top-left."""

    corners_px: Points
    corners_mm: Points
    centre_mm: Points
    width_mm: float
    height_mm: float
    outline_px: Points


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What a measurement of the scene should find."""

    side_mm: float | None
    reference_px: tuple[Points, ...]
    garment_px: Points | None
    garment_mm: Points | None
    upright_deg: float | None
    height_mm: float
    tilt_deg: float
    focal_px: float
    distortion: float
    motifs: tuple[MotifTruth, ...]


# -- truth -------------------------------------------------------------------------------------


def squared(points: Points) -> Points:
    """Squared distance from the origin, (N, 1)."""
    return np.einsum("ij,ij->i", points, points)[:, None]


def turned(points: Points, angle_deg: float) -> Points:
    """Turn points clockwise as seen (y points down)."""
    cos, sin = np.cos(np.deg2rad(angle_deg)), np.sin(np.deg2rad(angle_deg))
    return np.asarray(points) @ np.array([[cos, sin], [-sin, cos]])


def box_corners(left: float, top: float, right: float, bottom: float) -> Points:
    """Corners of an upright box, clockwise from its top-left."""
    return np.array([[left, top], [right, top], [right, bottom], [left, bottom]])


def truth_of(scene: Scene) -> Truth:
    """Compute what there is to be found."""
    camera, garment = scene.camera, scene.garment
    outline_mm = None if garment is None else garment.place_mm(densified(garment.outline))
    return Truth(
        side_mm=scene.references[0].side_mm if scene.references else None,
        reference_px=tuple(
            reference.place(camera, square(reference.side_mm)) for reference in scene.references
        ),
        garment_px=None if outline_mm is None else camera.project(outline_mm, garment.height_mm),
        garment_mm=outline_mm,
        upright_deg=None if garment is None else garment.turn_deg,
        height_mm=0.0 if garment is None else garment.height_mm,
        tilt_deg=camera.tilt_deg,
        focal_px=camera.focal_px,
        distortion=camera.distortion,
        motifs=()
        if garment is None
        else tuple(motif_truth(motif, garment, camera) for motif in scene.motifs),
    )


def motif_truth(motif: Motif, garment: Garment, camera: Camera) -> MotifTruth:
    """Compute one motif's box in every frame."""
    left, top, right, bottom = motif.box_mm
    corners_mm = garment.place_mm(box_corners(left, top, right, bottom))
    outline_mm = garment.place_mm(np.concatenate([densified(shape) for shape in motif.shapes]))
    return MotifTruth(
        corners_px=camera.project(corners_mm, garment.height_mm),
        corners_mm=corners_mm,
        centre_mm=corners_mm.mean(axis=0),
        width_mm=right - left,
        height_mm=bottom - top,
        outline_px=camera.project(outline_mm, garment.height_mm),
    )


# -- drawing -----------------------------------------------------------------------------------


def render(scene: Scene) -> NDArray[np.uint8]:
    """Draw the photo: (h, w, 3) RGB."""
    rng = np.random.default_rng(scene.seed)
    camera, light = scene.camera, scene.light
    canvas = np.empty((camera.height_px, camera.width_px, 3), np.float32)
    canvas[:] = linear(light.table)
    table_mm = coarse_table_mm(camera)
    canvas *= weave(rng, table_mm / 2.3, light.texture * 1.6)[..., None]
    if scene.garment is not None:
        lay_garment(canvas, scene, weave(rng, table_mm, light.texture))
    for reference in scene.references:
        lay_reference(canvas, reference, camera)
    canvas *= light.brightness * shade(camera, light)[..., None]
    blurred = cv2.GaussianBlur(canvas, (0, 0), light.blur_px) if light.blur_px else canvas
    return developed(blurred, rng, light.noise)


def lay_garment(canvas: NDArray[np.float32], scene: Scene, weave_px: NDArray[np.float32]) -> None:
    """Draw the garment with its shadow, its ground pattern and its motifs."""
    camera, garment = scene.camera, scene.garment
    assert garment is not None
    shape = canvas.shape[:2]

    def covered(own: Polygon) -> Patch:
        points = camera.project(garment.place_mm(densified(own)), garment.height_mm)
        return coverage(points, shape)

    cut_out = covered(garment.outline)
    whole = np.zeros(shape, np.float32)
    whole[cut_out.rows, cut_out.columns] = cut_out.share
    canvas *= 1 - 0.45 * softened(whole, camera.focal_px / camera.distance_mm)[..., None]
    for layer, ink in [
        ((garment.outline,), garment.cloth),
        (garment.ground, garment.ground_ink),
        *((motif.shapes, motif.ink) for motif in scene.motifs),
    ]:
        for patch in map(covered, layer):
            window = patch.rows, patch.columns
            share = patch.share if layer[0] is garment.outline else patch.share * whole[window]
            coloured = linear(ink) * weave_px[window][..., None]
            canvas[window] += share[..., None] * (coloured - canvas[window])


def softened(whole: NDArray[np.float32], px_per_mm: float) -> NDArray[np.float32]:
    """Blur a mask by about 4 mm, at a quarter of its size."""
    small = cv2.resize(whole, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(cv2.GaussianBlur(small, (0, 0), px_per_mm), whole.shape[::-1]))


def lay_reference(canvas: NDArray[np.float32], reference: Reference, camera: Camera) -> None:
    """Draw the card or the plain square."""
    paper = reference.place(camera, densified(square(reference.edge_mm)))
    patch = coverage(paper, canvas.shape[:2])
    window = patch.rows, patch.columns
    if reference.kind == "card":
        face = marker_share(reference, camera, *window)[..., None]
        coloured = linear(reference.ink) + face * (linear(reference.paper) - linear(reference.ink))
    else:
        coloured = linear(reference.paper)
    canvas[window] += patch.share[..., None] * (coloured - canvas[window])


def marker_share(reference: Reference, camera: Camera, ys: slice, xs: slice) -> NDArray[np.float32]:
    """Share of white in each pixel of a window, averaged over its footprint on the card.

    The footprint is a box along the card's own axes with the same spread as the pixel. The mean of
    cells over a box comes from their summed-area table, which is bilinear within each cell: exact.
    """
    grid = np.mgrid[ys, xs].astype(float)
    own = reference.own_mm(camera, np.column_stack([grid[1].ravel(), grid[0].ravel()]))
    cells = own.reshape(*grid.shape[1:], 2) / (reference.side_mm / 8) + 4 + MARGIN_MODULES
    table = summed(marker_cells(reference))
    steps = np.stack(np.gradient(cells, axis=(0, 1)))  # cells per pixel, down and to the right
    half = np.sqrt((steps**2).sum(axis=0)) / 2
    low, high = cells - half, cells + half
    total = (
        at(table, high[..., 0], high[..., 1])
        - at(table, low[..., 0], high[..., 1])
        - at(table, high[..., 0], low[..., 1])
        + at(table, low[..., 0], low[..., 1])
    )
    return (total / (4 * half.prod(axis=-1))).astype(np.float32)


def marker_cells(reference: Reference) -> NDArray[np.float64]:
    """White = 1: the marker with its margin, one number for each module."""
    number = reference.marker_id
    if number is None:
        number = marker_id_for(Fraction(reference.side_mm).limit_denominator(1000))
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    bits = cv2.aruco.generateImageMarker(family, number, 8) > 127
    return np.pad(bits.astype(float), MARGIN_MODULES, constant_values=1.0)


def summed(cells: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the summed-area table with a zero row and column in front."""
    return np.pad(cells.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))


def at(table: NDArray[np.float64], x: Points, y: Points) -> Points:
    """Read a table between its entries; beyond its rim white goes on (the table keeps growing)."""
    size = len(table) - 1
    column, row = (np.clip(np.floor(v), 0, size - 1).astype(int) for v in (x, y))
    u, v = x - column, y - row
    return np.asarray(
        table[row, column] * (1 - u) * (1 - v)
        + table[row, column + 1] * u * (1 - v)
        + table[row + 1, column] * (1 - u) * v
        + table[row + 1, column + 1] * u * v
    )


@dataclass(frozen=True, kw_only=True)
class Patch:
    """A part of the picture and the share of each of its pixels that a shape covers."""

    rows: slice
    columns: slice
    share: NDArray[np.float32]


def coverage(polygon_px: Points, shape: tuple[int, int]) -> Patch:
    """Share of each pixel that a polygon covers: 0.5 + distance to its outline, within 0..1."""
    low = np.clip(np.floor(polygon_px.min(axis=0)).astype(int) - 3, 0, np.array(shape[::-1]) - 2)
    high = np.clip(np.ceil(polygon_px.max(axis=0)).astype(int) + 4, low + 2, shape[::-1])
    local = polygon_px - low
    pixels = np.zeros((high - low)[::-1], np.uint8)
    rim = np.zeros_like(pixels)
    corners = [np.round(local).astype(np.int32)]
    cv2.fillPoly(pixels, corners, 1)
    cv2.polylines(rim, corners, True, 1, thickness=5)
    share = pixels.astype(np.float32)
    rows, columns = np.nonzero(rim)
    share[rows, columns] = np.clip(0.5 + inward_px(local, columns, rows), 0, 1)
    return Patch(rows=slice(low[1], high[1]), columns=slice(low[0], high[0]), share=share)


def inward_px(polygon: Points, x: NDArray[np.int64], y: NDArray[np.int64]) -> Points:
    """Distance of points to a polygon's outline, positive inside."""
    points = np.column_stack([x, y]).astype(float)
    nearest = np.full(len(points), np.inf)
    inside = np.zeros(len(points), dtype=bool)
    for start, end in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        along, to_point = end - start, points - start
        share = np.clip(to_point @ along / max(float(along @ along), 1e-12), 0, 1)
        off = to_point - share[:, None] * along
        nearest = np.minimum(nearest, squared(off)[:, 0])
        crosses = (start[1] > points[:, 1]) != (end[1] > points[:, 1])
        side = along[0] * to_point[:, 1] - along[1] * to_point[:, 0]
        inside ^= crosses & ((side < 0) == (along[1] > 0))
    return np.where(inside, 1, -1) * np.sqrt(nearest)


def coarse_table_mm(camera: Camera) -> NDArray[np.float32]:
    """Table position of each pixel, interpolated: good enough for texture."""
    size = (camera.width_px, camera.height_px)
    columns, rows = (np.linspace(0, extent - 1, 64) for extent in size)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    coarse = camera.unproject(grid).reshape(64, 64, 2).astype(np.float32)
    return np.asarray(cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC))


def weave(
    rng: np.random.Generator, table_mm: NDArray[np.float32], strength: float
) -> NDArray[np.float32]:
    """Uneven brightness of cloth or wood, about 1: a seeded tile repeated over the table."""
    fine = rng.standard_normal((256, 256)).astype(np.float32)
    coarse = cv2.resize(rng.standard_normal((17, 17)).astype(np.float32), (256, 256))
    threads = np.sin(np.arange(256) * 2 * np.pi / 8)
    tile = cv2.blur(fine, (3, 3)) + 0.5 * coarse + 0.4 * np.add.outer(threads, threads)
    where = np.mod(table_mm * 4, 255).astype(np.float32)
    picked = cv2.remap(tile.astype(np.float32), where[..., 0], where[..., 1], cv2.INTER_LINEAR)
    return np.asarray(np.exp(strength * picked))


def shade(camera: Camera, light: Light) -> NDArray[np.float32]:
    """Brightness over the picture, 1 at its middle: a slope towards the light."""
    angle = np.deg2rad(light.direction_deg)
    x = np.linspace(-0.5, 0.5, camera.width_px) * np.cos(angle)
    y = np.linspace(-0.5, 0.5, camera.height_px) * np.sin(angle)
    return (1 + light.gradient * np.add.outer(y, x)).astype(np.float32)


def linear(colour: Colour) -> NDArray[np.float32]:
    """Undo the sRGB encoding of a colour of 0..255; IEC 61966-2-1."""
    share = np.array(colour) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4).astype(
        np.float32
    )


def developed(
    light: NDArray[np.float32], rng: np.random.Generator, noise: float
) -> NDArray[np.uint8]:
    """Encode linear light as sRGB grey levels and add the sensor's noise."""
    steps = np.linspace(0, 1, 65536)
    curve = np.where(steps <= 0.0031308, steps * 12.92, 1.055 * steps ** (1 / 2.4) - 0.055) * 255
    index = (np.clip(light, 0, 1) * np.float32(65535)).astype(np.uint16)
    levels = curve.astype(np.float32)[index]
    if noise:
        levels += noise * rng.standard_normal(levels.shape, dtype=np.float32)
    return np.asarray(cv2.convertScaleAbs(np.maximum(levels, 0)))  # rounds, and stops at 255


# -- shapes ------------------------------------------------------------------------------------


def square(side: float) -> Points:
    """Corners of a square about the origin, clockwise from its top-left."""
    return box_corners(-side / 2, -side / 2, side / 2, side / 2)


def densified(polygon: Sequence[tuple[float, float]] | Points) -> Points:
    """Add points along a closed polygon's sides; its corners stay."""
    corners = np.asarray(polygon, dtype=float)
    pieces = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        count = max(1, int(np.ceil(np.linalg.norm(end - start) / STEP_MM)))
        pieces.append(start + np.arange(count)[:, None] / count * (end - start))
    return np.concatenate(pieces)


def as_polygon(points: Points) -> Polygon:
    """Freeze points."""
    return tuple((float(x), float(y)) for x, y in points)


def shirt(width_mm: float = 250.0, length_mm: float = 300.0) -> Polygon:
    """Outline of a small short-sleeved shirt about its middle."""
    half, top, bottom = width_mm / 2, -length_mm / 2, length_mm / 2
    right = [
        (0.24 * half, top),
        (0.55 * half, top + 12),
        (1.35 * half, top + 78),
        (1.12 * half, top + 118),
        (0.78 * half, top + 92),
        (0.82 * half, 0.3 * bottom),
        (0.86 * half, bottom),
    ]
    neck = [(-0.14 * half, top + 22), (0.0, top + 28), (0.14 * half, top + 22)]
    left = [(-x, y) for x, y in reversed(right)]
    return (*right, *left, *neck)


def blob(
    rng: np.random.Generator,
    width_mm: float,
    height_mm: float,
    centre: tuple[float, float] = (0, 0),
) -> Polygon:
    """A smooth random shape with exactly this tight box about a centre."""
    angle = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    radius = 1 + sum(
        rng.normal(0, 0.25 / order) * np.cos(order * angle + rng.uniform(0, 6.3))
        for order in (2, 3, 4, 5)
    )
    radius = np.clip(radius, 0.35, None)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    points -= (points.min(axis=0) + points.max(axis=0)) / 2
    points *= np.array([width_mm, height_mm]) / np.ptp(points, axis=0)
    return as_polygon(points + centre)


def stripes(outline: Polygon, pitch_mm: float) -> tuple[Polygon, ...]:
    """Level stripes over the whole of an outline."""
    points = np.array(outline)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return tuple(
        as_polygon(box_corners(left, y, right, y + pitch_mm / 2))
        for y in np.arange(top, bottom, pitch_mm)
    )


def scattered(
    rng: np.random.Generator, outline: Polygon, pitch_mm: float, size_mm: float
) -> tuple[Polygon, ...]:
    """Small shapes in a staggered grid over the whole of an outline: an all-over print."""
    points = np.array(outline)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    rows = np.arange(top + pitch_mm / 3, bottom, pitch_mm)
    return tuple(
        blob(rng, size_mm, size_mm, (float(x), float(y)))
        for number, y in enumerate(rows)
        for x in np.arange(left + pitch_mm * (0.3 + 0.5 * (number % 2)), right, pitch_mm)
    )


# -- scenes ------------------------------------------------------------------------------------


def make_scene(
    seed: int,
    *,
    tilt_deg: float | None = None,
    kind: Literal["single", "plain", "striped", "allover"] = "single",
    reference: Reference | None = None,
) -> Scene:
    """Make a random scene: card to the left of a small shirt, seen as a phone sees it."""
    rng = np.random.default_rng(seed)
    outline = shirt(rng.uniform(215, 265), rng.uniform(270, 330))
    card = reference or Reference(turn_deg=rng.uniform(-20, 20))
    garment = Garment(
        outline=outline,
        centre_mm=(rng.uniform(235, 255) + (card.edge_mm - 127) / 2, rng.uniform(-25, 40)),
        turn_deg=rng.uniform(-14, 14),
        height_mm=rng.uniform(1.5, 4.5),
        cloth=pastel(rng, 140, 225),
        ground=ground_of(rng, outline, kind),
        ground_ink=pastel(rng, 40, 120),
    )
    width, height = rng.uniform(60, 130, 2)
    shape = blob(rng, float(width), float(height), (rng.uniform(-12, 12), rng.uniform(-35, 25)))
    motifs = (Motif(shapes=(shape,), ink=pastel(rng, 25, 110)),) if kind == "single" else ()
    camera = Camera(
        focal_35mm=rng.uniform(24, 28),
        tilt_deg=float(rng.uniform(0, 25)) if tilt_deg is None else tilt_deg,
        azimuth_deg=rng.uniform(0, 360),
        distance_mm=rng.uniform(540, 620),
        aim_mm=(rng.uniform(130, 160), rng.uniform(-20, 20)),
        distortion=rng.normal(0, 0.01),
    )
    light = Light(
        brightness=rng.uniform(0.6, 0.95),
        gradient=rng.uniform(0, 0.4),
        direction_deg=rng.uniform(0, 360),
        blur_px=rng.uniform(0.6, 1.2),
        noise=rng.uniform(0.5, 3),
        table=pastel(rng, 60, 130),
    )
    return Scene(
        camera=camera, references=(card,), garment=garment, motifs=motifs, light=light, seed=seed
    )


def pastel(rng: np.random.Generator, low: float, high: float) -> Colour:
    """A random colour between two grey levels."""
    red, green, blue = rng.uniform(low, high, 3)
    return float(red), float(green), float(blue)


def ground_of(rng: np.random.Generator, outline: Polygon, kind: str) -> tuple[Polygon, ...]:
    """Pattern of the cloth for a kind of scene."""
    if kind == "striped":
        return stripes(outline, rng.uniform(12, 26))
    if kind == "allover":
        return scattered(rng, outline, rng.uniform(36, 46), rng.uniform(14, 20))
    return ()


def without_doubt(scene: Scene) -> Scene:
    """Return the same scene without noise and texture, to test exactness alone."""
    return replace(scene, light=replace(scene.light, noise=0.0, texture=0.0, gradient=0.0))


# -- files -------------------------------------------------------------------------------------


def save_photo(
    picture: NDArray[np.uint8],
    path: Path,
    *,
    focal_35mm: float | None = None,
    orientation: int = 1,
    quality: int = 94,
) -> Path:
    """Write a photo that shows ``picture`` once its EXIF orientation is applied."""
    stored = Image.fromarray(picture)
    undo = _UNDO.get(orientation)
    if undo is not None:
        stored = stored.transpose(undo)
    exif = Image.Exif()
    exif[ExifTags.Base.Orientation] = orientation
    if focal_35mm is not None:
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.FocalLengthIn35mmFilm] = round(focal_35mm)
    stored.save(path, exif=exif, quality=quality)
    return path


# Exif 2.3, tag 0x0112: 6 means "row 0 is the right side, column 0 the top", and so on. Each entry
# turns the picture as displayed into the picture as stored.
_UNDO = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}

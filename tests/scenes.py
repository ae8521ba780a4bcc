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
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import Literal

import cv2
import numpy as np
from camera import Camera
from drawing import (
    Colour,
    Patch,
    at,
    coarse_table_mm,
    coverage,
    developed,
    linear,
    softened,
    summed,
    weave,
)
from numpy.typing import NDArray
from photofile import save_photo as save_photo
from shapes import (
    Points,
    Polygon,
    blob,
    box_corners,
    densified,
    scattered,
    shirt,
    square,
    stripes,
    turned,
)

from motiffit.marker import marker_id_for

MARGIN_MODULES = 1  # white round the marker, design.md


@dataclass(frozen=True, kw_only=True)
class Reference:
    """A coded card or a plain square. ``curl_mm`` lifts its bottom-right corner off the table."""

    kind: Literal["card", "square"] = "card"
    side_mm: float = 101.6
    centre_mm: tuple[float, float] = (0.0, 0.0)
    turn_deg: float = 7.3
    height_mm: float = 0.0
    curl_mm: float = 0.0
    bend_mm: tuple[float, float, float, float, float] = (0.0,) * 5
    paper: Colour = (243, 242, 238)
    ink: Colour = (34, 33, 35)
    marker_id: int | None = None

    @property
    def edge_mm(self) -> float:
        """Side of the paper: the card has a white margin round the square, a plain square none."""
        return self.side_mm * (1 + 2 * MARGIN_MODULES / 8) if self.kind == "card" else self.side_mm

    def lift_mm(self, own_mm: Points) -> Points:
        """Height above the table at points of its own frame: a corner curled, the whole bent."""
        along = np.clip(own_mm.sum(axis=1) / self.edge_mm, 0.0, 1.0)  # 1 at the corner
        u, v = own_mm.T / (self.side_mm / 2)
        bend = np.stack([u, v, u * u, u * v, v * v], axis=1) @ self.bend_mm
        return np.asarray(self.height_mm + self.curl_mm * along**2 + bend)

    def place(self, camera: Camera, own_mm: Points) -> Points:
        """Map points of its own frame to the photo."""
        return camera.project(turned(own_mm, self.turn_deg) + self.centre_mm, self.lift_mm(own_mm))

    def own_mm(self, camera: Camera, points_px: Points) -> Points:
        """Map points of the photo to its own frame."""
        own = np.zeros_like(points_px, dtype=float)
        for _ in range(
            4 if self.curl_mm or any(self.bend_mm) else 1
        ):  # the bend moves a point by < 1 mm: settles fast
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

    camera: Camera = field(default_factory=Camera)
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
    tilt_deg: float
    focal_px: float
    distortion: float
    garment_px: Points | None = None
    garment_mm: Points | None = None
    upright_deg: float | None = None
    height_mm: float = 0.0
    motifs: tuple[MotifTruth, ...] = ()


def truth_of(scene: Scene) -> Truth:
    """Compute what there is to be found."""
    camera, garment = scene.camera, scene.garment
    bare = Truth(
        side_mm=scene.references[0].side_mm if scene.references else None,
        reference_px=tuple(
            reference.place(camera, square(reference.side_mm)) for reference in scene.references
        ),
        tilt_deg=camera.tilt_deg,
        focal_px=camera.focal_px,
        distortion=camera.distortion,
    )
    if garment is None:
        return bare
    outline_mm = garment.place_mm(densified(garment.outline))
    return replace(
        bare,
        garment_px=camera.project(outline_mm, garment.height_mm),
        garment_mm=outline_mm,
        upright_deg=garment.turn_deg,
        height_mm=garment.height_mm,
        motifs=tuple(motif_truth(motif, garment, camera) for motif in scene.motifs),
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


def render(scene: Scene) -> NDArray[np.uint8]:
    """Draw the photo: (h, w, 3) RGB."""
    rng = np.random.default_rng(scene.seed)
    camera, light = scene.camera, scene.light
    canvas = np.empty((camera.height_px, camera.width_px, 3), np.float32)
    canvas[:] = linear(light.table)
    table_mm = coarse_table_mm(camera)
    canvas *= weave(rng, table_mm / 2.3, light.texture * 1.6)[..., None]
    if scene.garment is not None:
        lay_garment(canvas, scene.garment, scene, weave(rng, table_mm, light.texture))
    for reference in scene.references:
        lay_reference(canvas, reference, camera)
    canvas *= light.brightness * shade(camera, light)[..., None]
    blurred = cv2.GaussianBlur(canvas, (0, 0), light.blur_px) if light.blur_px else canvas
    return developed(blurred, rng, light.noise)


def lay_garment(
    canvas: NDArray[np.float32], garment: Garment, scene: Scene, weave_px: NDArray[np.float32]
) -> None:
    """Draw the garment with its shadow, its ground pattern and its motifs."""
    camera = scene.camera
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


def shade(camera: Camera, light: Light) -> NDArray[np.float32]:
    """Brightness over the picture, 1 at its middle: a slope towards the light."""
    angle = np.deg2rad(light.direction_deg)
    x = np.linspace(-0.5, 0.5, camera.width_px) * np.cos(angle)
    y = np.linspace(-0.5, 0.5, camera.height_px) * np.sin(angle)
    return (1 + light.gradient * np.add.outer(y, x)).astype(np.float32)


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

"""What a sample photo is made of, and how it becomes a photo with its truth."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from maker.fields import Field
from maker.garments import GARMENTS
from maker.ink import Picture
from maker.layer import Layer
from maker.outlines import Path
from maker.printing import Box, box_of, embroider, placed, points_of, print_motif
from maker.scene import Setting, Taken, take
from maker.settle import settled
from maker.sewing import Style

FINISHED_IN = (3, 4, 5, 6, 7, 8, 9)
CLEARANCE_MM = 25.4 / 8

Kind = Literal["single", "plain", "allover"]
Decorate = Callable[[Layer, Path, np.random.Generator], None]


@dataclass(frozen=True, kw_only=True)
class Place:
    """A motif and where it goes on the garment: middle of its box, width, own turn."""

    picture: Picture
    centre_mm: tuple[float, float]
    width_mm: float
    turn_deg: float = 0.0
    how: Literal["print", "embroidery"] = "print"
    worn: float = 0.5


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """One photo. ``ground`` is drawn before the motif, ``over`` after it."""

    name: str
    what: str
    garment: str
    style: Style
    setting: Setting
    kind: Kind = "single"
    motif: Place | None = None
    ground: Decorate | None = None
    over: Decorate | None = None
    long_sleeves: bool = False
    expected: tuple[str, ...] = ("sized",)
    focal_in_exif: bool = True
    stored_turned: bool = False


def make(recipe: Recipe) -> tuple[NDArray[np.uint8], dict[str, Any]]:
    """Make the photo and its truth."""
    rng = np.random.default_rng(recipe.setting.seed)
    extra = {"long_sleeves": True} if recipe.long_sleeves else {}
    layer, outline = GARMENTS[recipe.garment](recipe.style, rng, **extra)
    if recipe.ground is not None:
        recipe.ground(layer, outline, rng)
    picture = None if recipe.motif is None else decorate(layer, recipe.motif, rng)
    if recipe.over is not None:
        recipe.over(layer, outline, rng)
    layer, forward = settled(layer, rng, None if picture is None else box_of(picture))
    taken = take(recipe.setting, layer)
    return taken.picture, truth_of(recipe, taken, forward(outline), picture)


def decorate(layer: Layer, motif: Place, rng: np.random.Generator) -> Picture:
    """Put the motif on; return it as it lies in the garment's frame."""
    picture = placed(motif.picture, motif.centre_mm, motif.width_mm, motif.turn_deg)
    if motif.how == "print":
        print_motif(layer, picture, rng, worn=motif.worn)
    else:
        embroider(layer, picture, rng)
    return picture


def truth_of(
    recipe: Recipe, taken: Taken, outline: Path, picture: Picture | None
) -> dict[str, Any]:
    """Write down what is to be found, in the words of the record and of the scoring script."""
    setting, camera = recipe.setting, recipe.setting.camera
    paper, paper_at = setting.paper, setting.paper_at
    square = level = None
    if paper is not None and paper_at is not None:
        corners = paper_at.place(paper.square_mm())
        heights = taken.height_at(corners)
        level = float(heights.mean())
        square = rounded(camera.project(corners, heights))
    on_table = setting.garment_at.place(outline)
    motifs, over_card = [], None
    if picture is not None:
        under = setting.garment_at.place(box_grid(box_of(picture)))
        cloth_mm = float(taken.height_at(under).mean())
        motifs = [motif_truth(picture, cloth_mm, setting)]
        over_card = None if level is None else round(cloth_mm - level, 2)
    return {
        "image": recipe.name,
        "what": recipe.what,
        "kind": recipe.kind,
        "reference": None if paper is None else paper.kind,
        "side_mm": None if paper is None else paper.side_mm,
        "reference_px": square,
        "tilt_deg": camera.tilt_deg,
        "focal_35mm": camera.focal_35mm,
        "distortion": camera.distortion,
        "cloth_above_reference_mm": over_card,
        "garment_px": rounded(camera.project(on_table[::6], taken.height_at(on_table[::6]))),
        "upright_deg": setting.garment_at.turn_deg,
        "motifs": motifs,
        "expected": list(recipe.expected),
    }


def motif_truth(picture: Picture, cloth_mm: float, setting: Setting) -> dict[str, Any]:
    """Describe the motif's tight box and hull, at the mean height of the cloth under it."""
    left, top, right, bottom = box_of(picture)
    hull = np.asarray(cv2.convexHull(points_of(picture).astype(np.float32))[:, 0], float)
    corners = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    width, height = right - left, bottom - top
    need = max(width, height) + 2 * CLEARANCE_MM
    finished = next((size for size in FINISHED_IN if size * 25.4 >= need), None)
    return {
        "corners_px": rounded(setting.camera.project(setting.garment_at.place(corners), cloth_mm)),
        "hull_px": rounded(setting.camera.project(setting.garment_at.place(hull), cloth_mm)),
        "width_mm": round(width, 2),
        "height_mm": round(height, 2),
        "finished_mm": None if finished is None else round(finished * 25.4, 1),
        "finished": None if finished is None else f"{finished} in",
    }


def box_grid(box: Box) -> Path:
    """Points all over a box."""
    left, top, right, bottom = box
    grid = np.meshgrid(np.linspace(left, right, 12), np.linspace(top, bottom, 12))
    return np.column_stack([part.ravel() for part in grid])


def rounded(points: Path | Field) -> list[list[float]]:
    """Points as plain numbers."""
    return [[round(float(x), 2), round(float(y), 2)] for x, y in points]

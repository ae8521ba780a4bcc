"""Random photos of the same make: any garment, motif, floor, light and view, with a 4 in card."""

from colorsys import hsv_to_rgb
from dataclasses import dataclass

import numpy as np

from maker.cloth import Cloth, Knit
from maker.ink import Picture
from maker.layer import Colour, Layer
from maker.motifs import MOTIFS
from maker.outlines import Path
from maker.paper import TEXT_STRIP_MM, Paper
from maker.photo import Camera, Light
from maker.printing import scatter, stripe
from maker.recipe import Decorate, Kind, Place, Recipe
from maker.scene import Setting, Spot
from maker.sewing import Style
from maker.surfaces import (
    MakeSurface,
    carpet,
    knitted_blanket,
    planks,
    quilted,
    sheet,
    table_top,
    tiles,
)

KNITS: tuple[Knit, ...] = ("jersey", "jersey", "rib", "woven", "fleece", "slub")
RIM_PX = 24.0  # everything of interest stays this far from the photo's edge


@dataclass(frozen=True, kw_only=True)
class Room:
    """How far a garment reaches (left and right alike), and where a motif may go on it (mm)."""

    half_width: float
    top: float
    bottom: float
    motif_at: tuple[float, float]
    motif_mm: tuple[float, float]
    long_sleeves: bool = False


ROOMS: dict[str, tuple[Room, ...]] = {
    "bodysuit": (
        Room(half_width=180, top=-192, bottom=216, motif_at=(0, -20), motif_mm=(55, 125)),
        Room(
            half_width=240,
            top=-192,
            bottom=216,
            motif_at=(0, -20),
            motif_mm=(55, 125),
            long_sleeves=True,
        ),
    ),
    "shirt": (
        Room(half_width=198, top=-190, bottom=184, motif_at=(0, -25), motif_mm=(60, 150)),
        Room(
            half_width=256,
            top=-190,
            bottom=184,
            motif_at=(0, -25),
            motif_mm=(60, 150),
            long_sleeves=True,
        ),
    ),
    "bib": (Room(half_width=116, top=-164, bottom=162, motif_at=(0, 55), motif_mm=(60, 125)),),
    "leggings": (
        Room(half_width=130, top=-220, bottom=224, motif_at=(0, -112), motif_mm=(50, 90)),
    ),
    "dress": (Room(half_width=190, top=-238, bottom=258, motif_at=(0, 90), motif_mm=(60, 140)),),
    "sleepsuit": (
        Room(half_width=218, top=-290, bottom=294, motif_at=(0, -80), motif_mm=(50, 120)),
    ),
}


def chance(seed: int) -> Recipe:
    """Make the recipe of one random photo."""
    rng = np.random.default_rng([20260314, seed])
    garment = str(rng.choice(list(ROOMS)))
    room = ROOMS[garment][int(rng.integers(len(ROOMS[garment])))]
    kind: Kind = rng.choice(["single", "single", "single", "single", "plain", "allover"])
    name, picture = motif(rng)
    style = some_style(rng)
    return Recipe(
        name=f"random-{seed:04d}.jpg",
        what=f"{garment}, {name if kind == 'single' else kind}",
        garment=garment,
        long_sleeves=room.long_sleeves,
        style=style,
        kind=kind,
        motif=some_place(rng, room, picture) if kind == "single" else None,
        ground=some_ground(rng, kind),
        setting=some_setting(rng, room, seed),
        expected=("sized", "check") if kind == "single" else ("no-motif",),
    )


def motif(rng: np.random.Generator) -> tuple[str, Picture]:
    """Choose a motif."""
    name = str(rng.choice(list(MOTIFS)))
    return name, MOTIFS[name]()


def tone(rng: np.random.Generator, brightness: tuple[float, float], most: float = 0.45) -> Colour:
    """Choose a colour of moderate saturation."""
    red, green, blue = hsv_to_rgb(
        float(rng.uniform()), float(rng.uniform(0.02, most)), float(rng.uniform(*brightness))
    )
    return 255 * red, 255 * green, 255 * blue


def some_style(rng: np.random.Generator) -> Style:
    """Choose cloth, trim and folds."""
    cloth = tone(rng, (0.3, 0.95))
    trim = cloth if rng.uniform() < 0.3 else tone(rng, (0.2, 0.9), 0.6)
    marl = float(rng.uniform(0.2, 0.5)) if rng.uniform() < 0.25 else 0.0
    return Style(
        cloth=Cloth(colour=cloth, knit=KNITS[int(rng.integers(len(KNITS)))], marl=marl),
        trim=Cloth(colour=trim),
        thread=tone(rng, (0.3, 0.95), 0.2),
        snap=tone(rng, (0.6, 0.9), 0.2),
        folds_mm=float(rng.uniform(0.8, 2.4)),
        lean_deg=float(rng.uniform(20, 110)),
        px_per_mm=4.4,
    )


def some_place(rng: np.random.Generator, room: Room, picture: Picture) -> Place:
    """Choose where the motif goes and how large it is."""
    x, y = room.motif_at
    points = np.concatenate([part for one in picture for part in one.outlines])
    shape = np.ptp(points, axis=0)
    longest = float(rng.uniform(*room.motif_mm))
    return Place(
        picture=picture,
        centre_mm=(x + float(rng.uniform(-6, 6)), y + float(rng.uniform(-12, 12))),
        width_mm=longest * min(1.0, float(shape[0] / shape[1])),
        turn_deg=float(rng.normal(0, 1.5)),
        worn=float(rng.uniform(0, 0.8)),
    )


def some_ground(rng: np.random.Generator, kind: Kind) -> Decorate | None:
    """Choose the cloth's own pattern."""
    if kind == "allover":
        pictures = [motif(rng)[1] for _ in range(3)]
        pitch = float(rng.uniform(34, 60))

        def printed(layer: Layer, outline: Path, rng: np.random.Generator) -> None:
            scatter(layer, pictures, rng, pitch_mm=pitch, size_mm=0.6 * pitch, ground=layer.ground)

        return printed
    if rng.uniform() > 0.2:
        return None
    colour, pitch = tone(rng, (0.2, 0.9), 0.6), float(rng.uniform(9, 30))

    def striped(layer: Layer, outline: Path, rng: np.random.Generator) -> None:
        stripe(layer, layer.ground, colour, pitch_mm=pitch, share=0.4, rng=rng)

    return striped


def some_surface(rng: np.random.Generator) -> MakeSurface:
    """Choose what it all lies on."""
    colour = tone(rng, (0.35, 0.9), 0.22)
    angle = float(rng.uniform(0, 180))
    wood = tone(rng, (0.5, 0.8), 0.1)
    warm = (min(255.0, wood[0] * 1.08), wood[1] * 0.88, wood[2] * 0.7)
    woven = Cloth(colour=colour, knit="woven")
    dark = (0.68 * warm[0], 0.68 * warm[1], 0.68 * warm[2])
    size = float(rng.uniform(0, 1))
    return [
        planks(warm, dark, plank_mm=80 + 80 * size, angle_deg=angle),
        carpet(colour, tuft_mm=2 + 2 * size),
        quilted(woven, pitch_mm=60 + 50 * size, puff_mm=4.0, angle_deg=angle),
        sheet(woven, deep_mm=0.8 + size, lean_deg=angle),
        tiles(colour, tone(rng, (0.4, 0.8), 0.1), angle_deg=angle),
        knitted_blanket(colour, wale_mm=9 + 9 * size, angle_deg=angle),
        table_top(colour),
    ][int(rng.integers(7))]


def some_setting(rng: np.random.Generator, room: Room, seed: int) -> Setting:
    """Choose floor, light and view; the card lies beside the garment."""
    card = Paper(curl_mm=float(rng.uniform(0, 1.5)))
    garment_at = Spot(centre_mm=(0.0, 0.0), turn_deg=float(rng.uniform(-14, 14)))
    half = card.side_mm * 0.625 + 8
    side = -1 if rng.uniform() < 0.6 else 1
    paper_at = Spot(
        centre_mm=(
            side * (room.half_width + half + float(rng.uniform(4, 24))),
            float(rng.uniform(0.5 * room.top, 0.5 * room.bottom)),
        ),
        turn_deg=float(rng.uniform(-30, 30)),
    )
    return Setting(
        surface=some_surface(rng),
        camera=some_camera(rng, shown(room, garment_at, card, paper_at)),
        light=Light(
            from_deg=float(rng.uniform(0, 360)),
            elevation_deg=float(rng.uniform(30, 55)),
            ambient=float(rng.uniform(0.45, 0.65)),
            exposure=float(rng.uniform(0.75, 1.05)),
            warmth=float(rng.normal(0.02, 0.03)),
            noise=float(rng.uniform(1, 3)),
            blur_px=float(rng.uniform(0.6, 1.1)),
        ),
        garment_at=garment_at,
        paper=card,
        paper_at=paper_at,
        seed=seed,
        px_per_mm=4.0,
    )


def shown(room: Room, garment_at: Spot, card: Paper, paper_at: Spot) -> Path:
    """Points that have to be in the photo."""
    x, out = room.half_width, card.side_mm * 0.625 + 2
    body = [(-x, room.top), (x, room.top), (x, room.bottom), (-x, room.bottom)]
    sheet_mm = [(-out, -out), (out, -out), (out, out + TEXT_STRIP_MM), (-out, out + TEXT_STRIP_MM)]
    return np.vstack([garment_at.place(np.array(body)), paper_at.place(np.array(sheet_mm))])


def some_camera(rng: np.random.Generator, points_mm: Path) -> Camera:
    """Choose a view that shows all points; step back until it does."""
    upright = rng.uniform() < 0.25
    low, high = points_mm.min(axis=0), points_mm.max(axis=0)
    middle = (low + high) / 2
    view = {
        "width_px": 1512 if upright else 2016,
        "height_px": 2016 if upright else 1512,
        "focal_35mm": float(rng.uniform(24, 28)),
        "tilt_deg": float(rng.uniform(0, 25)),
        "azimuth_deg": float(rng.uniform(0, 360)),
        "aim_mm": (float(middle[0] + rng.normal(0, 12)), float(middle[1] + rng.normal(0, 12))),
        "distortion": float(rng.normal(0, 0.008)),
    }
    distance = 420.0
    while True:
        camera = Camera(distance_mm=distance, **view)  # type: ignore[arg-type]
        seen = camera.project(points_mm)
        limit = np.array([camera.width_px, camera.height_px]) - RIM_PX
        if (seen > RIM_PX).all() and (seen < limit).all():
            return camera
        distance *= 1.03

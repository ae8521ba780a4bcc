"""Made-up photos: drawn garments on drawn floors, and made-up motifs pasted on real garments.

A scene is upright; turning and tilting it is the business of `augment`.
"""

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from motiffit.training.patterns import (
    make_noise,
    make_pattern,
    print_all_over,
    to_bytes,
)
from motiffit.training.printing import box_at, draw_share, draw_spot, print_motif, share_on_cloth
from motiffit.training.sewing import add_decoys, add_fasteners, add_trim
from motiffit.training.sprites import Rng, Sprites
from motiffit.training.things import add_things, hang_tag, is_near

__all__ = ["SCENE_PX", "Scene", "make_floor", "make_scene", "paste_on_photo", "trim_photo"]

SCENE_PX = 416
MARK_SHARE = 0.08  # of the motifs of drawn garments: small, as makers put them on the breast
SECOND_SHARE = 0.15  # of the garments with a pasted motif: a mark beside
DECOY_SHARE = 0.2  # of the garments with a pasted motif: labels, studs and the like besides
APART = 0.06  # parts of the garment between two motifs

Array = np.ndarray


@dataclass
class Scene:
    """A picture with its truth, in its own pixels."""

    picture: Array  # (h, w, 3) uint8
    mask: Array  # (h, w) uint8: 0 ground, 255 garment, 128 unknown
    garment: list[float]
    boxes: list[list[float]]
    hulls: list[Array]
    has: bool
    homes: tuple[str, ...] = ()  # the homes whose photos are in it


def make_scene(sprites: Sprites, rng: Rng) -> Scene:
    """Draw a garment, perhaps with motifs, on a floor with things lying about."""
    side = SCENE_PX
    floor = _floor(side, sprites, rng)
    length, middle = rng.uniform(0.45, 0.85) * side, rng.uniform(0.42, 0.58, 2) * side
    shape = _silhouette(rng)
    points = {k: middle + (v - 0.5) * length for k, v in shape.items()}
    mask = _smooth_mask(points, side, rng)
    cloth = _cloth(side, sprites, rng)
    cloth = add_trim(cloth, mask, points, length, rng)
    boxes, hulls = [], []
    if rng.random() < 0.75:
        wanted = 1 if rng.random() < 0.85 else 2
        chest = _chest(points, length)
        cloth, boxes, hulls = _add_motifs(cloth, mask, chest, wanted, sprites, rng)
    elif rng.random() < 0.35:  # printed all over: that is no motif to frame
        cloth = print_all_over(cloth, sprites, rng)
    if rng.random() < 0.35:
        cloth = add_fasteners(cloth, points, length, rng)
    if rng.random() < 0.12:
        cloth = hang_tag(
            cloth, boxes, points["trunk"][:, 0].mean(), points["trunk"][:, 1].min(), rng
        )
    picture = _lay(floor, cloth * _folds(side, rng)[..., None], mask, rng)
    picture = add_things(picture, mask, sprites, rng)
    rows, cols = np.nonzero(mask > 0.5)
    garment = [float(v) for v in (cols.min(), rows.min(), cols.max() + 1, rows.max() + 1)]
    return Scene(
        to_bytes(picture), np.uint8(255 * (mask > 0.5)), garment, boxes, hulls, bool(boxes)
    )


def make_floor(sprites: Sprites, rng: Rng) -> Scene:
    """Draw a floor with things lying about and no garment."""
    bare = np.zeros((SCENE_PX, SCENE_PX), np.float32)
    picture = add_things(_floor(SCENE_PX, sprites, rng), bare, sprites, rng)
    return Scene(to_bytes(picture), np.uint8(bare), [0.0, 0.0, 1.0, 1.0], [], [], False)


def paste_on_photo(
    photo: Array,
    mask: Array,
    garment: list[float],
    sprites: Sprites,
    rng: Rng,
    sprite: Image.Image,
    *,
    mark: bool,
) -> Scene | None:
    """Paste a motif on a garment that has none, small and aside if it is a maker's mark.

    Perhaps a mark more, well apart. None where the motif finds no room on the cloth.
    """
    wanted = [(sprite, mark)]
    if rng.random() < SECOND_SHARE:
        wanted.append((sprites.mark(rng), True))
    cloth, x0, y0 = photo.astype(np.float32) / 255, garment[0], garment[1]
    free = mask
    if rng.random() < DECOY_SHARE:
        sewn = add_decoys(cloth, mask, garment, rng)
        cloth, free = sewn, np.where((sewn != cloth).any(-1), 0, mask)
    size = np.array([garment[2] - x0, garment[3] - y0])
    boxes: list[list[float]] = []
    hulls: list[Array] = []
    for one, is_mark in wanted:
        for _ in range(12):
            centre = np.array([x0, y0]) + draw_spot(rng, mark=is_mark, scatter=0.13) * size
            box = box_at(one, centre, size.max() * draw_share(rng, mark=is_mark))
            apart = not any(is_near(box, b, APART * size.max()) for b in boxes)
            if apart and share_on_cloth(free, box) > 0.97:
                cloth, tight, hull = print_motif(cloth, one, box, rng)
                boxes.append(tight)
                hulls.append(hull)
                break
        if not boxes:
            return None
    if rng.random() < 0.15:
        cloth = hang_tag(cloth, boxes, x0 + size[0] / 2, y0, rng)
    return Scene(to_bytes(cloth), mask, garment, boxes, hulls, True)


def trim_photo(photo: Array, mask: Array, garment: list[float], rng: Rng) -> Scene:
    """Sew to a garment without a motif what makes no motif of it; perhaps hang a tag on it."""
    cloth = add_decoys(photo.astype(np.float32) / 255, mask, garment, rng)
    if rng.random() < 0.3:
        cloth = hang_tag(cloth, [], (garment[0] + garment[2]) / 2, garment[1], rng)
    return Scene(to_bytes(cloth), mask, garment, [], [], False)


def _silhouette(rng: Rng) -> dict[str, Array]:
    """Return the outlines of the garment's parts in a unit square, y down."""
    kind = rng.choice(["tee", "long", "body", "dress", "pants", "romper", "tank", "bib"])
    if kind == "bib":
        return {"trunk": _bib(rng)}
    w, hem = rng.uniform(0.2, 0.3), rng.uniform(0.2, 0.34)
    neck, deep, slope = rng.uniform(0.07, 0.12), rng.uniform(0.03, 0.09), rng.uniform(0.02, 0.07)
    low = rng.uniform(0.8, 0.98)
    if kind == "pants":
        waist, gap = rng.uniform(0.15, 0.24), rng.uniform(0.01, 0.08)
        crotch, leg = rng.uniform(0.4, 0.6), rng.uniform(0.07, 0.13)
        half = [
            (waist, 0.03),
            (waist + 0.04, crotch),
            (gap + 2 * leg, 0.97),
            (gap, 0.97),
            (0, crotch),
        ]
        return {"trunk": _both_sides(half, top=[(0, 0.03)])}
    arm = 0.26 if kind in ("tee", "dress", "romper") else 0.45 if kind in ("long", "body") else 0.0
    arm *= rng.uniform(0.7, 1.25)
    droop = np.deg2rad(rng.uniform(15, 75))
    sleeve = rng.uniform(0.1, 0.16)
    top = [(0, 0.03 + deep), (neck * 0.7, 0.03 + deep * 0.6), (neck, 0.03)]
    side = [(w, 0.03 + slope), (w * 0.97, 0.03 + slope + sleeve)]
    if kind == "body":
        side += [(w * 1.02, low - 0.22), (w * 0.45, low - 0.04), (0.07, low), (0, low)]
    elif kind == "dress":
        side += [(w * 0.95, 0.4), (hem * 1.35, low), (0, low + 0.02)]
    elif kind == "romper":
        side += [(w * 1.05, 0.6), (w * 1.15, low), (0.04, low), (0, 0.72)]
    else:
        side += [(hem, low), (0, low + rng.uniform(0, 0.02))]
    parts = {"trunk": _both_sides(top[1:] + side, top=top[:1])}
    if arm:
        way = np.array([np.cos(droop), np.sin(droop)])
        out = np.array([-way[1], way[0]])
        root = np.array([w, 0.03 + slope])
        end = root + arm * way
        cuff = sleeve * rng.uniform(0.6, 0.95)
        half = np.array([root, end, end + cuff * out, root + sleeve * np.array([-0.03, 1])])
        parts["right"] = half * [1, 1] + [0.5, 0]
        parts["left"] = half * [-1, 1] + [0.5, 0]
    return parts


def _bib(rng: Rng) -> Array:
    """Return a bib: a round or square apron, its two ends round the neck."""
    turn = np.linspace(0, np.pi, 13)[:, None]
    wide, high = rng.uniform(0.26, 0.4), rng.uniform(0.28, 0.42)
    square = rng.uniform(0.35, 1.0)  # 1 is an ellipse, less is squarer
    way = np.hstack([np.sin(turn), -np.cos(turn)])
    apron = np.sign(way) * np.abs(way) ** square * [wide, high] + [0, 0.12 + high]
    neck, end = rng.uniform(0.1, 0.17), rng.uniform(0.0, 0.08)
    hole = np.hstack([np.sin(turn), np.cos(turn)]) * [neck, neck * 1.1] + [0, 0.1 + neck]
    strap = [(0.05, end), (neck + rng.uniform(0.05, 0.1), end + 0.08)]
    right = np.vstack([hole[:9], strap, apron[apron[:, 1] > end + 0.2]])
    return np.concatenate([right, right[::-1] * [-1, 1]]) + np.array([0.5, 0.0])


def _both_sides(half: list[tuple[float, float]], top: list[tuple[float, float]]) -> Array:
    """Mirror the right half of an outline."""
    right = np.array(top + half)
    left = right[::-1] * [-1, 1]
    return np.concatenate([right, left]) + np.array([0.5, 0.0])


def _smooth_mask(parts: dict[str, Array], side: int, rng: Rng) -> Array:
    """Fill the parts with softly waving edges; 0..1."""
    image = Image.new("L", (side, side))
    for points in parts.values():
        ImageDraw.Draw(image).polygon([tuple(p) for p in points], fill=255)
    wave = rng.uniform(0, 1) * 60 * (make_noise(side, 24, rng) - 0.5)
    soft = np.asarray(image.filter(ImageFilter.GaussianBlur(rng.uniform(1.5, 5))), np.float32)
    return np.clip((soft + wave * (np.abs(soft - 127) < 125) - 127) / 40 + 0.5, 0, 1)


def _floor(side: int, sprites: Sprites, rng: Rng) -> Array:
    """Return what the garment lies on."""
    kinds = ["plain", "carpet", "planks", "tiles", "stripes", "checks", "florals"]
    floor = make_pattern(side, sprites, rng, kinds, [0.27, 0.17, 0.2, 0.1, 0.08, 0.06, 0.12])
    if rng.random() < 0.4:  # quilted or crumpled
        floor = floor * (0.75 + 0.5 * make_noise(side, rng.uniform(20, 90), rng))[..., None]
    return floor


def _cloth(side: int, sprites: Sprites, rng: Rng) -> Array:
    """Return the garment's cloth."""
    kinds = ["plain", "heather", "stripes", "dots", "checks"]
    cloth = make_pattern(side, sprites, rng, kinds, [0.56, 0.16, 0.12, 0.1, 0.06])
    if rng.random() < 0.12:  # colour blocks: another cloth above or below a line
        other, line = (
            make_pattern(side, sprites, rng, kinds[:3], [0.7, 0.2, 0.1]),
            rng.uniform(0.3, 0.7) * side,
        )
        rows = np.mgrid[:side, :side][0]
        cloth = np.where((rows < line)[..., None], other, cloth)
    return cloth


def _chest(parts: dict[str, Array], length: float) -> tuple[Array, Array]:
    """Return middle and half extent of where motifs mostly sit."""
    trunk = parts["trunk"]
    low, high = trunk.min(0), trunk.max(0)
    return (low + high) / 2 - [0, 0.06 * length], (high - low) / 2


def _add_motifs(
    cloth: Array, mask: Array, chest: tuple[Array, Array], wanted: int, sprites: Sprites, rng: Rng
) -> tuple[Array, list[list[float]], list[Array]]:
    """Put motifs on the cloth, apart from each other."""
    boxes: list[list[float]] = []
    hulls: list[Array] = []
    length = 2 * max(chest[1])
    for _ in range(wanted):
        mark = rng.random() < MARK_SHARE
        sprite = sprites.mark(rng) if mark else sprites.make(rng)
        for _ in range(10):
            spot = draw_spot(rng, mark=mark, scatter=0.15 if wanted > 1 else 0.08)
            centre = chest[0] + 2 * (spot - 0.5) * chest[1]
            share = draw_share(rng, mark=mark) * (0.6 if wanted > 1 and not mark else 1)
            box = box_at(sprite, centre, length * share)
            if share_on_cloth(mask * 255, box) > 0.985 and not any(
                is_near(box, b, 0.05 * length) for b in boxes
            ):
                cloth, tight, hull = print_motif(cloth, sprite, box, rng)
                boxes.append(tight)
                hulls.append(hull)
                break
    return cloth, boxes, hulls


def _folds(side: int, rng: Rng) -> Array:
    """Return the shading of folds and light, about 1."""
    shade = 1 + rng.uniform(0.05, 0.3) * (make_noise(side, rng.uniform(60, 200), rng) - 0.5)
    for _ in range(int(rng.integers(0, 4))):  # ridges
        field = make_noise(side, rng.uniform(60, 160), rng) - 0.5
        shade += rng.uniform(-0.12, 0.12) * np.exp(-((field / rng.uniform(0.02, 0.06)) ** 2))
    return shade + rng.uniform(0, 0.06) * (make_noise(side, 8, rng) - 0.5)


def _lay(floor: Array, cloth: Array, mask: Array, rng: Rng) -> Array:
    """Lay the garment on the floor with its shadow."""
    soft = Image.fromarray(np.uint8(255 * mask)).filter(
        ImageFilter.GaussianBlur(rng.uniform(1.5, 7))
    )
    shadow = np.roll(np.asarray(soft, np.float32) / 255, tuple(rng.integers(-5, 6, 2)), (0, 1))
    ground = floor * (1 - rng.uniform(0.1, 0.6) * shadow[..., None])
    return ground * (1 - mask[..., None]) + cloth * mask[..., None]

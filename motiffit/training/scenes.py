"""Made-up photos: drawn garments on drawn floors, and made-up motifs pasted on real garments.

A scene is upright; turning and tilting it is the business of `augment`.
"""

from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from motiffit.training.sprites import Rng, Sprites, fit_alpha

__all__ = ["SCENE_PX", "Scene", "make_floor", "make_scene", "paste_on_photo"]

SCENE_PX = 416
MOTIF_LEAST_PX = 9

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
    cloth, ink_allowed = _cloth(side, mask, sprites, rng)
    cloth = _trim(cloth, mask, points, length, rng)
    boxes, hulls = [], []
    if rng.random() < 0.75:
        wanted = 1 if rng.random() < 0.85 else 2
        chest = _chest(points, length)
        cloth, boxes, hulls = _add_motifs(cloth, mask, chest, wanted, sprites, rng)
    elif ink_allowed and rng.random() < 0.35:
        cloth = _all_over(cloth, mask, sprites, rng)
    if rng.random() < 0.35:
        cloth = _fasteners(cloth, points, length, rng)
    if rng.random() < 0.12:
        cloth = _swing_tag(
            cloth, boxes, points["trunk"][:, 0].mean(), points["trunk"][:, 1].min(), rng
        )
    picture = _lay(floor, cloth * _folds(side, rng)[..., None], mask, rng)
    picture = _things(picture, mask, sprites, rng)
    rows, cols = np.nonzero(mask > 0.5)
    garment = [float(v) for v in (cols.min(), rows.min(), cols.max() + 1, rows.max() + 1)]
    return Scene(
        _to_bytes(picture), np.uint8(255 * (mask > 0.5)), garment, boxes, hulls, bool(boxes)
    )


def make_floor(sprites: Sprites, rng: Rng) -> Scene:
    """Draw a floor with things lying about and no garment."""
    bare = np.zeros((SCENE_PX, SCENE_PX), np.float32)
    picture = _things(_floor(SCENE_PX, sprites, rng), bare, sprites, rng)
    return Scene(_to_bytes(picture), np.uint8(bare), [0.0, 0.0, 1.0, 1.0], [], [], False)


def paste_on_photo(
    photo: Array, mask: Array, garment: list[float], sprites: Sprites, rng: Rng, sprite: Image.Image
) -> Scene | None:
    """Paste a motif on a garment that has none; None where it finds no room on the cloth."""
    x0, y0, x1, y1 = garment
    length = max(x1 - x0, y1 - y0)
    cloth = photo.astype(np.float32) / 255
    for _ in range(12):
        longest = length * _motif_share(rng)
        centre = np.array([x0 + x1, y0 + y1]) / 2 + rng.normal(0, 0.13, 2) * (x1 - x0, y1 - y0)
        box = _box_at(sprite, centre, longest)
        if _room(mask, box) > 0.97:
            out, tight, hull = _ink(cloth, sprite, box, rng)
            if rng.random() < 0.15:
                out = _swing_tag(out, [tight], (x0 + x1) / 2, y0, rng)
            return Scene(_to_bytes(out), mask, garment, [tight], [hull], True)
    return None


def _motif_share(rng: Rng) -> float:
    """Return the motif's longest side in parts of the garment's, small ones not rare."""
    return float(np.exp(rng.uniform(np.log(0.07), np.log(0.62))))


def _silhouette(rng: Rng) -> dict[str, Array]:
    """Return the outlines of the garment's parts in a unit square, y down."""
    kind = rng.choice(["tee", "long", "body", "dress", "pants", "romper", "tank"])
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


def _both_sides(half: list[tuple[float, float]], top: list[tuple[float, float]]) -> Array:
    """Mirror the right half of an outline."""
    right = np.array(top + half)
    left = right[::-1] * [-1, 1]
    return np.concatenate([right, left]) + [0.5, 0]


def _smooth_mask(parts: dict[str, Array], side: int, rng: Rng) -> Array:
    """Fill the parts with softly waving edges; 0..1."""
    image = Image.new("L", (side, side))
    for points in parts.values():
        ImageDraw.Draw(image).polygon([tuple(p) for p in points], fill=255)
    wave = rng.uniform(0, 1) * 60 * (_noise(side, 24, rng) - 0.5)
    soft = np.asarray(image.filter(ImageFilter.GaussianBlur(rng.uniform(1.5, 5))), np.float32)
    return np.clip((soft + wave * (np.abs(soft - 127) < 125) - 127) / 40 + 0.5, 0, 1)


def _noise(side: int, grain: float, rng: Rng) -> Array:
    """Return smooth noise 0..1 whose features are `grain` pixels wide."""
    cells = max(2, int(side / grain))
    coarse = Image.fromarray(np.uint8(rng.integers(0, 256, (cells, cells))))
    return np.asarray(coarse.resize((side, side), Image.Resampling.BICUBIC), np.float32) / 255


def _colour(rng: Rng, muted: float = 0.5) -> Array:
    """Return a cloth or floor colour 0..1; grey, white and black are not rare."""
    grey, hue = rng.beta(1.3, 1.0), rng.random() * 6
    wheel = np.clip(np.abs((hue + np.array([0, 4, 2])) % 6 - 3) - 1, 0, 1)
    chroma = rng.beta(1, 2) * (1 - muted) + (rng.random() < 1 - muted) * rng.beta(2, 2) * 0.6
    return np.float32(np.clip(0.08 + 0.86 * grey * (1 - chroma + chroma * wheel), 0, 1))


def _pattern(side: int, sprites: Sprites, rng: Rng, kinds: list[str], odds: list[float]) -> Array:
    """Return a coloured pattern (side, side, 3) of one of `kinds`."""
    kind = rng.choice(kinds, p=odds)
    one, two = _colour(rng), _colour(rng)
    if rng.random() < 0.4:
        two = np.clip(one * rng.uniform(0.7, 1.3), 0, 1)
    rows, cols = np.mgrid[:side, :side].astype(np.float32)
    pitch, turn = (
        np.exp(rng.uniform(np.log(7), np.log(60))),
        rng.choice([0.0, np.pi / 2, rng.uniform(0, 3)]),
    )
    along = rows * np.cos(turn) + cols * np.sin(turn) + 6 * _noise(side, 90, rng)
    across = cols * np.cos(turn) - rows * np.sin(turn) + 6 * _noise(side, 90, rng)
    share = rng.uniform(0.2, 0.7)
    if kind == "stripes":
        blend = (along / pitch % 1 < share).astype(np.float32)
    elif kind == "dots":
        u, v = along / pitch % 1 - 0.5, across / pitch % 1 - 0.5
        blend = (u**2 + v**2 < (0.42 * share) ** 2).astype(np.float32)
    elif kind == "checks":
        blend = 0.5 * (along / pitch % 1 < share) + 0.5 * (across / pitch % 1 < share)
    elif kind == "heather":
        blend = np.clip(rng.normal(0.5, 0.5, (side, side)), 0, 1) * 0.5 + 0.5 * _noise(side, 3, rng)
        two = np.clip(one + rng.uniform(-0.2, 0.2), 0, 1)
    elif kind == "planks":
        board = np.floor(along / (pitch + 20))
        tone = np.sin(board * 12.9898 + 3) * 0.5 + 0.5
        grain = 0.5 + 0.5 * np.sin(across / 9 + 9 * _noise(side, 40, rng) + board * 5)
        blend = np.clip(0.6 * tone + 0.25 * grain + 0.3 * _noise(side, 5, rng), 0, 1)
        blend = np.where((along / (pitch + 20)) % 1 < 0.03, 1.6, blend)
        two = np.clip(one * rng.uniform(0.55, 0.85), 0, 1)
    elif kind == "tiles":
        size = pitch * 2 + 40
        blend = ((along / size % 1 < 0.03) | (across / size % 1 < 0.03)).astype(np.float32)
        blend = np.maximum(blend, 0.25 * _noise(side, 12, rng))
    elif kind == "carpet":
        blend = 0.6 * rng.random((side, side)) + 0.6 * _noise(side, 4, rng) - 0.1
        two = np.clip(one * rng.uniform(0.5, 0.8), 0, 1)
    else:  # plain
        blend = 0.06 * rng.normal(0, 1, (side, side)) + 0.1 * _noise(side, 30, rng)
    blend = np.float32(blend)[..., None]
    cloth = np.clip(one * (1 - blend) + two * blend, 0, 1)
    return _tiled(cloth, sprites, rng) if kind == "florals" else cloth


def _floor(side: int, sprites: Sprites, rng: Rng) -> Array:
    """Return what the garment lies on."""
    kinds = ["plain", "carpet", "planks", "tiles", "stripes", "checks", "florals"]
    floor = _pattern(side, sprites, rng, kinds, [0.27, 0.17, 0.2, 0.1, 0.08, 0.06, 0.12])
    if rng.random() < 0.4:  # quilted or crumpled
        floor = floor * (0.75 + 0.5 * _noise(side, rng.uniform(20, 90), rng))[..., None]
    return floor


def _cloth(side: int, mask: Array, sprites: Sprites, rng: Rng) -> tuple[Array, bool]:
    """Return the garment's cloth, and whether it is plain enough for an all-over print."""
    kinds = ["plain", "heather", "stripes", "dots", "checks"]
    cloth = _pattern(side, sprites, rng, kinds, [0.56, 0.16, 0.12, 0.1, 0.06])
    if rng.random() < 0.12:  # colour blocks: another cloth above or below a line
        other, line = (
            _pattern(side, sprites, rng, kinds[:3], [0.7, 0.2, 0.1]),
            rng.uniform(0.3, 0.7) * side,
        )
        rows = np.mgrid[:side, :side][0]
        cloth = np.where((rows < line)[..., None], other, cloth)
    return cloth, True


def _trim(cloth: Array, mask: Array, parts: dict[str, Array], length: float, rng: Rng) -> Array:
    """Add sleeves, bands, a pocket and a neck label in other colours: none of them is a motif."""
    cloth = cloth.copy()
    colour = _colour(rng, 0.3)
    image = Image.new("L", mask.shape[::-1])
    pen = ImageDraw.Draw(image)
    trunk = parts["trunk"]
    left, top, right, low = *trunk.min(0), *trunk.max(0)
    wide = max(2, int(rng.uniform(0.015, 0.04) * length))
    if rng.random() < 0.55:
        neck = trunk[np.abs(trunk[:, 0] - trunk[:, 0].mean()) < 0.14 * length]
        neck = neck[neck[:, 1] < top + 0.14 * length]
        pen.line([tuple(p) for p in neck[np.argsort(neck[:, 0])]], fill=255, width=2 * wide)
    if rng.random() < 0.35:
        pen.rectangle((0, low - 2 * wide, mask.shape[1], low + 9), fill=255)
    if "right" in parts and rng.random() < 0.4:
        whole = rng.random() < 0.4
        for name in ("left", "right"):
            quad = parts[name]
            ends = (
                quad
                if whole
                else [
                    quad[1],
                    quad[2],
                    0.8 * quad[2] + 0.2 * quad[3],
                    0.8 * quad[1] + 0.2 * quad[0],
                ]
            )
            pen.polygon([tuple(p) for p in ends], fill=255)
    blend = np.asarray(image.filter(ImageFilter.GaussianBlur(0.7)), np.float32)[..., None] / 255
    cloth = cloth * (1 - blend) + colour * blend
    if rng.random() < 0.2:
        cloth = _pocket(cloth, (left, top, right, low), length, rng)
    if rng.random() < 0.3:
        cloth = _neck_label(cloth, ((left + right) / 2, top + 0.05 * length), length, rng)
    return cloth


def _pocket(cloth: Array, trunk: tuple[float, ...], length: float, rng: Rng) -> Array:
    """Sew on a pocket: a darker or coloured patch with a stitched rim."""
    left, top, right, low = trunk
    x, y = (
        rng.uniform(left + 0.1 * length, right - 0.2 * length),
        rng.uniform(top + 0.2 * length, low - 0.25 * length),
    )
    w, h = rng.uniform(0.08, 0.2, 2) * length
    image = Image.new("RGBA", cloth.shape[1::-1])
    tone = np.uint8(255 * (_colour(rng) if rng.random() < 0.4 else cloth[int(y), int(x)] * 0.93))
    pen = ImageDraw.Draw(image)
    frame = [(x, y), (x + w, y), (x + w, y + h * 0.8), (x + w / 2, y + h), (x, y + h * 0.8)]
    pen.polygon(frame, fill=(*map(int, tone), 200))
    pen.line([*frame, frame[0]], fill=(30, 30, 30, 110), width=1)
    return _over(cloth, image)


def _neck_label(cloth: Array, at: tuple[float, float], length: float, rng: Rng) -> Array:
    """Sew in a small label under the neckline."""
    w, h = rng.uniform(0.03, 0.06) * length, rng.uniform(0.015, 0.04) * length
    image = Image.new("RGBA", cloth.shape[1::-1])
    tone = int(rng.choice([245, 30]))
    box = (at[0] - w / 2, at[1], at[0] + w / 2, at[1] + h)
    pen = ImageDraw.Draw(image)
    pen.rectangle(box, fill=(tone, tone, tone, 255))
    pen.line((box[0] + 1, at[1] + h / 2, box[2] - 1, at[1] + h / 2), fill=(128, 128, 128, 255))
    return _over(cloth, image)


def _fasteners(cloth: Array, parts: dict[str, Array], length: float, rng: Rng) -> Array:
    """Add buttons, snaps or a zip along the middle or the hem."""
    trunk = parts["trunk"]
    middle, top, low = trunk[:, 0].mean(), trunk[:, 1].min() + 0.08 * length, trunk[:, 1].max()
    image = Image.new("RGBA", cloth.shape[1::-1])
    pen, tone = ImageDraw.Draw(image), tuple(map(int, np.uint8(255 * _colour(rng, 0.3))))
    kind, radius = (
        rng.choice(["placket", "snaps", "zip"]),
        max(1.5, rng.uniform(0.006, 0.014) * length),
    )
    if kind == "zip":
        end = rng.uniform(top + 0.3 * length, low)
        pen.line((middle - 3, top, middle - 3, end), fill=(20, 20, 20, 60), width=1)
        pen.line((middle + 3, top, middle + 3, end), fill=(20, 20, 20, 60), width=1)
        pen.line((middle, top, middle, end), fill=(*tone, 230), width=int(rng.integers(1, 4)))
    else:
        along = np.arange(rng.integers(2, 6)) * rng.uniform(0.04, 0.09) * length
        spots = (
            [(middle, top + a) for a in along]
            if kind == "placket"
            else [(middle + a - along.mean(), low - 0.02 * length) for a in along]
        )
        for x, y in spots:
            pen.ellipse(
                (x - radius, y - radius, x + radius, y + radius),
                fill=(*tone, 255),
                outline=(40, 40, 40, 150),
            )
    return _over(cloth, image)


def _swing_tag(cloth: Array, boxes: list[list[float]], x: float, y: float, rng: Rng) -> Array:
    """Hang a shop's paper tag from the garment, off the motif: it is no motif."""
    side = max(cloth.shape)
    w, h = rng.uniform(0.03, 0.07) * side, rng.uniform(0.05, 0.13) * side
    left, top = x + rng.normal(0, 0.12) * side, y + rng.uniform(0.05, 0.35) * side
    tag = [int(left), int(top), int(left + w), int(top + h)]
    if any(_near(tag, box, 3) for box in boxes):
        return cloth
    image = Image.new("RGBA", cloth.shape[1::-1])
    pen, tone = ImageDraw.Draw(image), _colour(rng, 0.2) if rng.random() < 0.5 else np.full(3, 0.95)
    pen.line((left + w / 2, top - 0.04 * side, left + w / 2, top), fill=(60, 60, 60, 160))
    pen.rectangle(tag, fill=(*map(int, np.uint8(255 * tone)), 255))
    for line in np.linspace(top + 0.15 * h, top + 0.9 * h, int(rng.integers(2, 7))):
        ink = (*map(int, rng.integers(0, 255, 3)), 255)
        pen.line(
            (left + 0.15 * w, line, left + rng.uniform(0.4, 0.9) * w, line),
            fill=ink,
            width=int(rng.integers(1, 4)),
        )
    return _over(cloth, image)


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
        sprite = sprites.make(rng)
        for _ in range(10):
            centre = chest[0] + rng.normal(0, 0.3 if wanted > 1 else 0.16, 2) * chest[1]
            share = _motif_share(rng) * (0.6 if wanted > 1 else 1)
            box = _box_at(sprite, centre, length * share)
            if _room(mask * 255, box) > 0.985 and not any(
                _near(box, b, 0.05 * length) for b in boxes
            ):
                cloth, tight, hull = _ink(cloth, sprite, box, rng)
                boxes.append(tight)
                hulls.append(hull)
                break
    return cloth, boxes, hulls


def _box_at(sprite: Image.Image, centre: Array, longest: float) -> list[int]:
    """Return the integer box of a sprite enlarged to `longest` about a point."""
    scale = max(longest, MOTIF_LEAST_PX) / max(sprite.size)
    w, h = (max(4, round(s * scale)) for s in sprite.size)
    x, y = (round(c - s / 2) for c, s in zip(centre, (w, h), strict=True))
    return [x, y, x + w, y + h]


def _room(mask: Array, box: list[int]) -> float:
    """Return the share of a box that lies on the cloth."""
    x0, y0, x1, y1 = box
    if x0 < 0 or y0 < 0 or x1 > mask.shape[1] or y1 > mask.shape[0]:
        return 0.0
    return float((mask[y0:y1, x0:x1] > 128).mean())


def _near(a: list[int], b: list[float], gap: float) -> bool:
    """Tell whether two boxes come closer than `gap`."""
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap


def _ink(
    cloth: Array, sprite: Image.Image, box: list[int], rng: Rng
) -> tuple[Array, list[float], Array]:
    """Print a sprite into a box, shaded as the cloth is; return the picture, its box and hull."""
    x0, y0, x1, y1 = box
    small = (
        np.asarray(sprite.resize((x1 - x0, y1 - y0), Image.Resampling.LANCZOS), np.float32) / 255
    )
    ink, alpha = small[..., :3], small[..., 3:]
    alpha = alpha * max(1.0, 0.5 / max(float(alpha.max()), 0.05))  # thin lines fade when shrunk
    view = cloth[y0:y1, x0:x1]
    ground = np.median(view.reshape(-1, 3), 0)
    light = view.mean(-1, keepdims=True)
    blurred = Image.fromarray(_to_bytes(light[..., 0])).filter(ImageFilter.BoxBlur(2))
    soft = np.asarray(blurred, np.float32)[..., None] / 255
    shade = np.clip(0.35 + 0.65 * soft / max(float(ground.mean()), 0.05), 0.3, 1.6)
    if rng.random() < 0.16:  # tone on tone
        step = rng.choice([-1, 1]) * rng.uniform(0.1, 0.28)
        ink = np.clip(ground * (1 + step) + 0.25 * step * (ground.mean() < 0.2), 0, 1) + 0 * ink
        alpha = alpha * rng.uniform(0.7, 1)
    elif np.abs((ink * alpha).sum((0, 1)) / max(float(alpha.sum()), 1e-3) - ground).max() < 0.12:
        ink = 1 - ink  # invisible as it is
    if rng.random() < 0.25:  # raised: a little shadow on one side
        dark = np.roll(alpha, tuple(rng.integers(-2, 3, 2)), (0, 1))
        view = view * (1 - 0.35 * np.clip(dark - alpha, 0, 1))
    out = cloth.copy()
    out[y0:y1, x0:x1] = view * (1 - alpha) + np.clip(ink * shade, 0, 1) * alpha
    return out, *_tight(alpha[..., 0], x0, y0)


def _tight(alpha: Array, x0: int, y0: int) -> tuple[list[float], Array]:
    """Return the box and the hull points of the ink."""
    rows, cols = np.nonzero(alpha >= min(0.3, 0.4 * alpha.max()))
    box = [x0 + cols.min(), y0 + rows.min(), x0 + cols.max() + 1, y0 + rows.max() + 1]
    angles = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ways = np.stack([np.cos(angles), np.sin(angles)])
    ink = np.stack([cols + 0.5, rows + 0.5], 1)
    hull = ink[np.unique((ink @ ways).argmax(0))] + [x0, y0]
    middle = np.array([box[0] + box[2], box[1] + box[3]]) / 2
    return [float(v) for v in box], hull + 0.5 * np.sign(hull - middle)


def _all_over(cloth: Array, mask: Array, sprites: Sprites, rng: Rng) -> Array:
    """Print one small motif all over the cloth: that is no motif to frame."""
    return _tiled(cloth, sprites, rng)


def _tiled(cloth: Array, sprites: Sprites, rng: Rng) -> Array:
    """Repeat one or two small sprites over a picture."""
    size = int(np.exp(rng.uniform(np.log(14), np.log(70))))
    parts = [sprites.picture(rng) for _ in range(int(rng.integers(1, 4)))]
    image, step = Image.new("RGBA", cloth.shape[1::-1]), size * rng.uniform(1.1, 2.2)
    jitter, row = rng.uniform(0, 0.3) * step, 0
    turn = rng.random() < 0.5
    for y in np.arange(-size, cloth.shape[0], step):
        for x in np.arange(-size, cloth.shape[1], step) + (row % 2) * step / 2:
            part = parts[rng.integers(len(parts))]
            part = part.resize((size, max(3, round(size * part.height / part.width))))
            if turn:
                part = part.rotate(rng.uniform(0, 360), expand=True)
            image.paste(
                part, (int(x + rng.normal(0, jitter)), int(y + rng.normal(0, jitter))), part
            )
        row += 1
    if rng.random() < 0.4:
        image.putalpha(image.getchannel("A").point(lambda v: int(v * 0.5)))
    return _over(cloth, image)


def _over(cloth: Array, image: Image.Image) -> Array:
    """Lay an RGBA picture over a float picture."""
    box = image.getchannel("A").getbbox()
    if box is None:
        return cloth
    x0, y0, x1, y1 = box
    layer = np.asarray(image.crop(box), np.float32) / 255
    out = cloth.copy()
    view = out[y0:y1, x0:x1]
    view += (layer[..., :3] - view) * layer[..., 3:]
    return out


def _folds(side: int, rng: Rng) -> Array:
    """Return the shading of folds and light, about 1."""
    shade = 1 + rng.uniform(0.05, 0.3) * (_noise(side, rng.uniform(60, 200), rng) - 0.5)
    for _ in range(int(rng.integers(0, 4))):  # ridges
        field = _noise(side, rng.uniform(60, 160), rng) - 0.5
        shade += rng.uniform(-0.12, 0.12) * np.exp(-((field / rng.uniform(0.02, 0.06)) ** 2))
    return shade + rng.uniform(0, 0.06) * (_noise(side, 8, rng) - 0.5)


def _lay(floor: Array, cloth: Array, mask: Array, rng: Rng) -> Array:
    """Lay the garment on the floor with its shadow."""
    soft = Image.fromarray(np.uint8(255 * mask)).filter(
        ImageFilter.GaussianBlur(rng.uniform(1.5, 7))
    )
    shadow = np.roll(np.asarray(soft, np.float32) / 255, tuple(rng.integers(-5, 6, 2)), (0, 1))
    ground = floor * (1 - rng.uniform(0.1, 0.6) * shadow[..., None])
    return ground * (1 - mask[..., None]) + cloth * mask[..., None]


def _things(picture: Array, mask: Array, sprites: Sprites, rng: Rng) -> Array:
    """Add things beside the garment: cards with a marker, paper squares, pens, balls, toys."""
    side = picture.shape[0]
    for _ in range(int(rng.integers(0, 5))):
        kind = rng.choice(["card", "paper", "pen", "ball", "toy"], p=[0.35, 0.15, 0.2, 0.15, 0.15])
        size = int(side * rng.uniform(0.08, 0.24))
        thing = _thing(kind, size, sprites, rng).rotate(
            rng.uniform(0, 360), expand=True, resample=Image.Resampling.BICUBIC
        )
        x, y = (int(v) for v in rng.uniform(-0.05, 0.95, 2) * side)
        image = Image.new("RGBA", (side, side))
        image.paste(thing, (x, y), thing)
        covered = np.asarray(image.getchannel("A")) > 60
        if (covered & (mask > 0.4)).sum() < 0.05 * covered.sum():
            picture = _over(picture, image)
    return picture


def _thing(kind: str, size: int, sprites: Sprites, rng: Rng) -> Image.Image:
    """Draw one thing."""
    if kind == "toy":
        part = sprites.icons[rng.integers(len(sprites.icons))]
        return part.resize((size, max(3, round(size * part.height / part.width))))
    image = Image.new("RGBA", (size, size))
    pen = ImageDraw.Draw(image)
    tone = tuple(map(int, np.uint8(255 * _colour(rng, 0.2))))
    if kind == "card":
        white, black = int(rng.integers(200, 250)), int(rng.integers(10, 60))
        bits = np.full((10, 10), white, np.uint8)
        bits[1:9, 1:9] = black
        bits[2:8, 2:8] = np.where(rng.random((6, 6)) < 0.5, white, black)
        card = Image.fromarray(bits).resize((size, size), Image.Resampling.NEAREST)
        image = Image.merge("RGBA", (card, card, card, Image.new("L", card.size, 255)))
    elif kind == "paper":
        pen.rectangle((0, 0, size, size), fill=(*tone, 255))
    elif kind == "pen":
        thick = max(3, size // 12)
        pen.rounded_rectangle((0, size // 2, size, size // 2 + thick), thick / 2, fill=(*tone, 255))
        pen.line((0, size // 2 + 1, size, size // 2 + 1), fill=(255, 255, 255, 120))
    else:
        pen.ellipse((0, 0, size - 1, size - 1), fill=(*tone, 255))
        pen.ellipse((size * 0.2, size * 0.15, size * 0.5, size * 0.45), fill=(255, 255, 255, 70))
    return image


def _to_bytes(picture: Array) -> Array:
    """Clip and turn into bytes."""
    return np.uint8(np.clip(picture, 0, 1) * 255 + 0.5)

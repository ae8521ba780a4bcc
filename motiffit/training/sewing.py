"""What is sewn to a garment and is no motif: bands, pockets, labels, fasteners, specks."""

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from motiffit.training.patterns import draw_colour, lay_over
from motiffit.training.sprites import Rng

__all__ = ["add_decoys", "add_fasteners", "add_trim"]

Array = np.ndarray


def add_trim(cloth: Array, mask: Array, parts: dict[str, Array], length: float, rng: Rng) -> Array:
    """Add sleeves, bands, a pocket and a neck label in other colours: none of them is a motif."""
    cloth = cloth.copy()
    colour = draw_colour(rng, 0.3)
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
        cloth = _label(cloth, ((left + right) / 2, top + 0.05 * length), length, rng)
    return cloth


def _pocket(cloth: Array, trunk: tuple[float, ...], length: float, rng: Rng) -> Array:
    """Sew on a pocket: a darker or coloured patch with a stitched rim."""
    left, top, right, low = trunk
    if right - left < 0.3 * length or low - top < 0.45 * length:
        return cloth  # no room
    x, y = (
        rng.uniform(left + 0.1 * length, right - 0.2 * length),
        rng.uniform(top + 0.2 * length, low - 0.25 * length),
    )
    w, h = rng.uniform(0.08, 0.2, 2) * length
    image = Image.new("RGBA", cloth.shape[1::-1])
    tone = np.uint8(
        255 * (draw_colour(rng) if rng.random() < 0.4 else cloth[int(y), int(x)] * 0.93)
    )
    pen = ImageDraw.Draw(image)
    frame = [(x, y), (x + w, y), (x + w, y + h * 0.8), (x + w / 2, y + h), (x, y + h * 0.8)]
    pen.polygon(frame, fill=(*map(int, tone), 200))
    pen.line([*frame, frame[0]], fill=(30, 30, 30, 110), width=1)
    return lay_over(cloth, image)


def _label(cloth: Array, at: tuple[float, float], length: float, rng: Rng) -> Array:
    """Sew on a small label, its top edge in the middle of a place."""
    w, h = rng.uniform(0.03, 0.06) * length, rng.uniform(0.015, 0.04) * length
    image = Image.new("RGBA", cloth.shape[1::-1])
    tone = int(rng.choice([245, 30]))
    box = (at[0] - w / 2, at[1], at[0] + w / 2, at[1] + h)
    pen = ImageDraw.Draw(image)
    pen.rectangle(box, fill=(tone, tone, tone, 255))
    pen.line((box[0] + 1, at[1] + h / 2, box[2] - 1, at[1] + h / 2), fill=(128, 128, 128, 255))
    return lay_over(cloth, image)


def add_fasteners(cloth: Array, parts: dict[str, Array], length: float, rng: Rng) -> Array:
    """Add buttons, snaps or a zip along the middle or the hem."""
    trunk = parts["trunk"]
    middle, top, low = trunk[:, 0].mean(), trunk[:, 1].min() + 0.08 * length, trunk[:, 1].max()
    image = Image.new("RGBA", cloth.shape[1::-1])
    pen, tone = ImageDraw.Draw(image), tuple(map(int, np.uint8(255 * draw_colour(rng, 0.3))))
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
    return lay_over(cloth, image)


def add_decoys(cloth: Array, mask: Array, garment: list[float], rng: Rng) -> Array:
    """Sew one to three things to a real garment that are taken for a motif: none of them is one.

    `mask` (h, w) is 255 on the garment: nothing is sewn beside it.
    """
    bare = cloth
    x0, y0, x1, y1 = garment
    length, middle = max(x1 - x0, y1 - y0), (x0 + x1) / 2
    whole = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    kinds = ["neck", "hem", "fasteners", "pocket", "speck", "plate"]
    for kind in rng.choice(kinds, int(rng.integers(1, 4)), replace=False):
        if kind == "neck":
            cloth = _label(cloth, (middle, y0 + rng.uniform(0.01, 0.08) * length), length, rng)
        elif kind == "hem":
            at = rng.uniform(0.2, 0.8) * (x1 - x0) + x0, y0 + rng.uniform(0.85, 0.96) * (y1 - y0)
            cloth = _label(cloth, at, length, rng)
        elif kind == "fasteners":
            cloth = add_fasteners(cloth, {"trunk": whole}, length, rng)
        elif kind == "pocket":
            cloth = _pocket(cloth, (x0, y0, x1, y1), length, rng)
        else:
            spot = np.array([x0, y0]) + rng.uniform(0.15, 0.85, 2) * [x1 - x0, y1 - y0]
            reach = rng.uniform(0.006, 0.011) if kind == "speck" else rng.uniform(0.01, 0.02)
            cloth = _stud(cloth, spot, reach * length, rng, metal=kind == "plate")
    return np.where((mask > 128)[..., None], cloth, bare)


def _stud(cloth: Array, at: Array, radius: float, rng: Rng, *, metal: bool) -> Array:
    """Fasten a stud, a zip's puller or a speck: a bright or dark spot, metal with a gleam."""
    image = Image.new("RGBA", cloth.shape[1::-1])
    pen, (x, y) = ImageDraw.Draw(image), at
    wide, high = radius * rng.uniform(0.7, 1.4), radius * rng.uniform(0.7, 1.4)
    tone = tuple(map(int, np.uint8(255 * draw_colour(rng, 0.3))))
    draw = pen.ellipse if rng.random() < 0.6 else pen.rectangle
    draw((x - wide, y - high, x + wide, y + high), fill=(*tone, 255))
    if metal:
        gleam = (255, 255, 255, 150)
        pen.ellipse((x - 0.5 * wide, y - 0.6 * high, x + 0.1 * wide, y), fill=gleam)
    return lay_over(cloth, image.filter(ImageFilter.GaussianBlur(rng.uniform(0.3, 0.8))))

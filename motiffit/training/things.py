"""What lies or hangs about a garment and is no motif: cards, toys, tape measures, shop tags."""

import numpy as np
from PIL import Image, ImageDraw

from motiffit.training.patterns import draw_colour, lay_over
from motiffit.training.sprites import Rng, Sprites

__all__ = ["add_things", "hang_tag", "is_near"]

Array = np.ndarray


def add_things(picture: Array, mask: Array, sprites: Sprites, rng: Rng) -> Array:
    """Add things beside the garment: marker cards, paper, pens, balls, toys, tape measures."""
    side = picture.shape[0]
    for _ in range(int(rng.integers(0, 5))):
        kind = rng.choice(
            ["card", "paper", "pen", "ball", "toy", "tape"], p=[0.32, 0.14, 0.16, 0.12, 0.14, 0.12]
        )
        size = int(side * rng.uniform(0.08, 0.24))
        thing = _thing(kind, size, sprites, rng).rotate(
            rng.uniform(0, 360), expand=True, resample=Image.Resampling.BICUBIC
        )
        x, y = (int(v) for v in rng.uniform(-0.05, 0.95, 2) * side)
        image = Image.new("RGBA", (side, side))
        image.paste(thing, (x, y), thing)
        covered = np.asarray(image.getchannel("A")) > 60
        if (covered & (mask > 0.4)).sum() < 0.05 * covered.sum():
            picture = lay_over(picture, image)
    return picture


def _thing(kind: str, size: int, sprites: Sprites, rng: Rng) -> Image.Image:
    """Draw one thing."""
    if kind == "toy":
        part = sprites.icons[rng.integers(len(sprites.icons))]
        return part.resize((size, max(3, round(size * part.height / part.width))))
    image = Image.new("RGBA", (size, size))
    pen = ImageDraw.Draw(image)
    tone = tuple(map(int, np.uint8(255 * draw_colour(rng, 0.2))))
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
    elif kind == "tape":  # a tape measure or a ruler, twice as long as other things
        image = Image.new("RGBA", (2 * size, max(5, size // 5)), (*tone, 255))
        pen, ink = ImageDraw.Draw(image), (20, 20, 20, 255)
        for number, x in enumerate(np.arange(0, 2 * size, max(2.0, size / 24))):
            pen.line((x, 0, x, image.height * (0.6 if number % 5 == 0 else 0.3)), fill=ink)
    else:
        pen.ellipse((0, 0, size - 1, size - 1), fill=(*tone, 255))
        pen.ellipse((size * 0.2, size * 0.15, size * 0.5, size * 0.45), fill=(255, 255, 255, 70))
    return image


def hang_tag(cloth: Array, boxes: list[list[float]], x: float, y: float, rng: Rng) -> Array:
    """Hang a shop's paper tag from the garment, off the motif: it is no motif."""
    side = max(cloth.shape)
    w, h = rng.uniform(0.03, 0.07) * side, rng.uniform(0.05, 0.13) * side
    left, top = x + rng.normal(0, 0.12) * side, y + rng.uniform(0.05, 0.35) * side
    tag = [int(left), int(top), int(left + w), int(top + h)]
    if any(is_near(tag, box, 3) for box in boxes):
        return cloth
    image = Image.new("RGBA", cloth.shape[1::-1])
    pen, tone = (
        ImageDraw.Draw(image),
        draw_colour(rng, 0.2) if rng.random() < 0.5 else np.full(3, 0.95),
    )
    pen.line((left + w / 2, top - 0.04 * side, left + w / 2, top), fill=(60, 60, 60, 160))
    pen.rectangle(tag, fill=(*map(int, np.uint8(255 * tone)), 255))
    for line in np.linspace(top + 0.15 * h, top + 0.9 * h, int(rng.integers(2, 7))):
        ink = (*map(int, rng.integers(0, 255, 3)), 255)
        pen.line(
            (left + 0.15 * w, line, left + rng.uniform(0.4, 0.9) * w, line),
            fill=ink,
            width=int(rng.integers(1, 4)),
        )
    return lay_over(cloth, image)


def is_near(a: list[int], b: list[float], gap: float) -> bool:
    """Tell whether two boxes come closer than `gap`."""
    return a[0] < b[2] + gap and b[0] < a[2] + gap and a[1] < b[3] + gap and b[1] < a[3] + gap

"""Colours, noise and patterns of made-up cloth and floors; float pictures 0..1."""

import numpy as np
from PIL import Image

from motiffit.training.sprites import Rng, Sprites

__all__ = ["draw_colour", "lay_over", "make_noise", "make_pattern", "print_all_over", "to_bytes"]

Array = np.ndarray


def make_noise(side: int, grain: float, rng: Rng) -> Array:
    """Return smooth noise 0..1 whose features are `grain` pixels wide."""
    cells = max(2, int(side / grain))
    coarse = Image.fromarray(np.uint8(rng.integers(0, 256, (cells, cells))))
    return np.asarray(coarse.resize((side, side), Image.Resampling.BICUBIC), np.float32) / 255


def draw_colour(rng: Rng, muted: float = 0.5) -> Array:
    """Return a cloth or floor colour 0..1; grey, white and black are not rare."""
    grey, hue = rng.beta(1.3, 1.0), rng.random() * 6
    wheel = np.clip(np.abs((hue + np.array([0, 4, 2])) % 6 - 3) - 1, 0, 1)
    chroma = rng.beta(1, 2) * (1 - muted) + (rng.random() < 1 - muted) * rng.beta(2, 2) * 0.6
    return np.float32(np.clip(0.08 + 0.86 * grey * (1 - chroma + chroma * wheel), 0, 1))


def make_pattern(
    side: int, sprites: Sprites, rng: Rng, kinds: list[str], odds: list[float]
) -> Array:
    """Return a coloured pattern (side, side, 3) of one of `kinds`."""
    kind = rng.choice(kinds, p=odds)
    one, two = draw_colour(rng), draw_colour(rng)
    if rng.random() < 0.4:
        two = np.clip(one * rng.uniform(0.7, 1.3), 0, 1)
    rows, cols = np.mgrid[:side, :side].astype(np.float32)
    pitch, turn = (
        np.exp(rng.uniform(np.log(7), np.log(60))),
        rng.choice([0.0, np.pi / 2, rng.uniform(0, 3)]),
    )
    along = rows * np.cos(turn) + cols * np.sin(turn) + 6 * make_noise(side, 90, rng)
    across = cols * np.cos(turn) - rows * np.sin(turn) + 6 * make_noise(side, 90, rng)
    share = rng.uniform(0.2, 0.7)
    if kind == "stripes":
        blend = (along / pitch % 1 < share).astype(np.float32)
    elif kind == "dots":
        u, v = along / pitch % 1 - 0.5, across / pitch % 1 - 0.5
        blend = (u**2 + v**2 < (0.42 * share) ** 2).astype(np.float32)
    elif kind == "checks":
        blend = 0.5 * (along / pitch % 1 < share) + 0.5 * (across / pitch % 1 < share)
    elif kind == "heather":
        blend = np.clip(rng.normal(0.5, 0.5, (side, side)), 0, 1) * 0.5 + 0.5 * make_noise(
            side, 3, rng
        )
        two = np.clip(one + rng.uniform(-0.2, 0.2), 0, 1)
    elif kind == "planks":
        board = np.floor(along / (pitch + 20))
        tone = np.sin(board * 12.9898 + 3) * 0.5 + 0.5
        grain = 0.5 + 0.5 * np.sin(across / 9 + 9 * make_noise(side, 40, rng) + board * 5)
        blend = np.clip(0.6 * tone + 0.25 * grain + 0.3 * make_noise(side, 5, rng), 0, 1)
        blend = np.where((along / (pitch + 20)) % 1 < 0.03, 1.6, blend)
        two = np.clip(one * rng.uniform(0.55, 0.85), 0, 1)
    elif kind == "tiles":
        size = pitch * 2 + 40
        blend = ((along / size % 1 < 0.03) | (across / size % 1 < 0.03)).astype(np.float32)
        blend = np.maximum(blend, 0.25 * make_noise(side, 12, rng))
    elif kind == "carpet":
        blend = 0.6 * rng.random((side, side)) + 0.6 * make_noise(side, 4, rng) - 0.1
        two = np.clip(one * rng.uniform(0.5, 0.8), 0, 1)
    else:  # plain
        blend = 0.06 * rng.normal(0, 1, (side, side)) + 0.1 * make_noise(side, 30, rng)
    blend = np.float32(blend)[..., None]
    cloth = np.clip(one * (1 - blend) + two * blend, 0, 1)
    return print_all_over(cloth, sprites, rng) if kind == "florals" else cloth


def print_all_over(cloth: Array, sprites: Sprites, rng: Rng) -> Array:
    """Repeat one or two small sprites over a picture."""
    size = int(np.exp(rng.uniform(np.log(14), np.log(70))))
    parts = [sprites.picture(rng) for _ in range(int(rng.integers(1, 4)))]
    image, step = Image.new("RGBA", cloth.shape[1::-1]), size * rng.uniform(1.1, 2.2)
    jitter = rng.uniform(0, 0.3) * step
    turn = rng.random() < 0.5
    for row, y in enumerate(np.arange(-size, cloth.shape[0], step)):
        for x in np.arange(-size, cloth.shape[1], step) + (row % 2) * step / 2:
            part = parts[rng.integers(len(parts))]
            part = part.resize((size, max(3, round(size * part.height / part.width))))
            if turn:
                part = part.rotate(rng.uniform(0, 360), expand=True)
            image.paste(
                part, (int(x + rng.normal(0, jitter)), int(y + rng.normal(0, jitter))), part
            )
    if rng.random() < 0.4:
        image.putalpha(image.getchannel("A").point(lambda v: int(v * 0.5)))
    return lay_over(cloth, image)


def lay_over(cloth: Array, image: Image.Image) -> Array:
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


def to_bytes(picture: Array) -> Array:
    """Clip and turn into bytes."""
    return np.uint8(np.clip(picture, 0, 1) * 255 + 0.5)

"""Printing a motif on cloth, made up or real, with its exact box and hull."""

import numpy as np
from PIL import Image, ImageFilter, ImageOps

from motiffit.training.patterns import to_bytes
from motiffit.training.sprites import Rng

__all__ = ["box_at", "draw_share", "draw_spot", "print_motif", "share_on_cloth"]

Array = np.ndarray

MOTIF_LEAST_PX = 9
TONAL_SHARE = 0.27  # of motifs: in the colour of their cloth
ROOM_PX = 3  # about a sprite, for its blur
FAINT, FAINT_RIM = 0.3, 0.15  # alpha from which ink counts; less for thin rims shrunk to nothing
SOFT_BELOW_PX = 48  # smaller motifs are near the limit of what a photo resolves


def box_at(sprite: Image.Image, centre: Array, longest: float) -> list[int]:
    """Return the integer box of a sprite enlarged to `longest` about a point."""
    scale = max(longest, MOTIF_LEAST_PX) / max(sprite.size)
    w, h = (max(4, round(s * scale)) for s in sprite.size)
    x, y = (round(c - s / 2) for c, s in zip(centre, (w, h), strict=True))
    return [x, y, x + w, y + h]


def share_on_cloth(mask: Array, box: list[int]) -> float:
    """Return the share of a box that lies on the cloth."""
    x0, y0, x1, y1 = box
    if x0 < 0 or y0 < 0 or x1 > mask.shape[1] or y1 > mask.shape[0]:
        return 0.0
    return float((mask[y0:y1, x0:x1] > 128).mean())


def print_motif(
    cloth: Array, sprite: Image.Image, box: list[int], rng: Rng
) -> tuple[Array, list[float], Array]:
    """Print a sprite into a box, shaded as the cloth is; return the picture, its box and hull."""
    x0, y0, x1, y1 = box
    small = sprite.convert("RGBa").resize((x1 - x0, y1 - y0), Image.Resampling.LANCZOS)
    is_small = max(small.size) < SOFT_BELOW_PX
    room = min(ROOM_PX, x0, y0, cloth.shape[1] - x1, cloth.shape[0] - y1)
    small = ImageOps.expand(small, room)
    x0, y0, x1, y1 = x0 - room, y0 - room, x1 + room, y1 + room
    sharp = _unit(small)[..., 3]
    if is_small and rng.random() < 0.5:
        small = small.filter(ImageFilter.GaussianBlur(rng.uniform(0.3, 0.9)))
    seen = _unit(small)
    ink, alpha = seen[..., :3], seen[..., 3:]
    alpha = alpha * max(1.0, 0.5 / max(float(alpha.max()), 0.05))  # thin lines fade when shrunk
    view = cloth[y0:y1, x0:x1]
    ground = np.median(view.reshape(-1, 3), 0)
    light = view.mean(-1, keepdims=True)
    blurred = Image.fromarray(to_bytes(light[..., 0])).filter(ImageFilter.BoxBlur(2))
    soft = np.asarray(blurred, np.float32)[..., None] / 255
    shade = np.clip(0.35 + 0.65 * soft / max(float(ground.mean()), 0.05), 0.3, 1.6)
    if rng.random() < TONAL_SHARE:  # tone on tone
        faintest = (0.2, 0.4) if is_small else (0.1, 0.28)
        step = rng.choice([-1, 1]) * rng.uniform(*faintest)
        ink = np.clip(ground * (1 + step) + 0.25 * step * (ground.mean() < 0.2), 0, 1) + 0 * ink
        alpha = alpha * rng.uniform(0.7, 1)
    elif np.abs((ink * alpha).sum((0, 1)) / max(float(alpha.sum()), 1e-3) - ground).max() < 0.12:
        ink = 1 - ink  # invisible as it is
    if rng.random() < 0.25:  # raised: a little shadow on one side
        dark = np.roll(alpha, tuple(rng.integers(-2, 3, 2)), (0, 1))
        view = view * (1 - 0.35 * np.clip(dark - alpha, 0, 1))
    out = cloth.copy()
    out[y0:y1, x0:x1] = view * (1 - alpha) + np.clip(ink * shade, 0, 1) * alpha
    return out, *_tight(sharp, x0, y0, FAINT_RIM if is_small else FAINT)


def _unit(small: Image.Image) -> Array:
    """Return a premultiplied sprite as colours and alpha (h, w, 4) in 0..1."""
    return np.asarray(small.convert("RGBA"), np.float32) / 255


def _tight(alpha: Array, x0: int, y0: int, faint: float) -> tuple[list[float], Array]:
    """Return the box and the hull points of the ink."""
    rows, cols = np.nonzero(alpha >= min(faint, 0.4 * alpha.max()))
    box = [x0 + cols.min(), y0 + rows.min(), x0 + cols.max() + 1, y0 + rows.max() + 1]
    angles = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    ways = np.stack([np.cos(angles), np.sin(angles)])
    ink = np.stack([cols + 0.5, rows + 0.5], 1)
    hull = ink[np.unique((ink @ ways).argmax(0))] + [x0, y0]
    middle = np.array([box[0] + box[2], box[1] + box[3]]) / 2
    return [float(v) for v in box], hull + 0.5 * np.sign(hull - middle)


def draw_share(rng: Rng, *, mark: bool) -> float:
    """Return a motif's longest side in parts of the garment's; a maker's mark is small."""
    least, most = (0.032, 0.13) if mark else (0.07, 0.75)
    return float(np.exp(rng.uniform(np.log(least), np.log(most))))


def draw_spot(rng: Rng, *, mark: bool, scatter: float) -> Array:
    """Return a motif's middle in parts of the garment's box.

    Makers put their marks on the breast, the hip or the sleeve, mostly beside the middle; other
    motifs scatter about it.
    """
    if not mark:
        return 0.5 + rng.normal(0, scatter, 2)
    if rng.random() < 0.25:
        return rng.uniform(0.1, 0.9, 2)
    aside = rng.choice([-1, 1]) * rng.normal(0.12, 0.05)
    return np.array([0.5 + aside, rng.normal(0.29, 0.07)])

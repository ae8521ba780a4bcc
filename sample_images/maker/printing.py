"""Motifs on cloth: printed, embroidered or applied, all-over prints, and a zip through them."""

import cv2
import numpy as np

from maker.fields import Field, blurred, bumps, linear
from maker.ink import Picture
from maker.layer import Colour, Layer, darken, press, stitch
from maker.outlines import Path, beside, resampled

Box = tuple[float, float, float, float]


def filled(layer: Layer, outlines: tuple[Path, ...]) -> Field:
    """Share of each cell inside outlines, inner ones being holes."""
    cover = np.zeros(layer.shape, np.uint8)
    corners = [np.round(layer.px(part) * 16).astype(np.int32) for part in outlines]
    cv2.fillPoly(cover, corners, 255, cv2.LINE_AA, 4)
    return cover.astype(np.float32) / 255


def points_of(picture: Picture) -> Path:
    """All points of a picture's outlines."""
    return np.concatenate([part for one in picture for part in one.outlines])


def placed(
    picture: Picture, centre: tuple[float, float], width_mm: float, turn_deg: float
) -> Picture:
    """Scale a picture to a width, centre its box on a point and turn it."""
    points = points_of(picture)
    low, high = points.min(axis=0), points.max(axis=0)
    scale, middle = width_mm / (high[0] - low[0]), (low + high) / 2
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    turn = np.array([[cos, sin], [-sin, cos]])
    return tuple(
        type(one)(
            outlines=tuple(((part - middle) * scale) @ turn + centre for part in one.outlines),
            colour=one.colour,
        )
        for one in picture
    )


def print_motif(
    layer: Layer, picture: Picture, rng: np.random.Generator, *, worn: float = 0.5
) -> None:
    """Screen-print: the knit shows through, washing has left fine cracks."""
    layer = layer.near(points_of(picture))
    knit = layer.height - blurred(layer.height, 0.9 * layer.px_per_mm)
    texture = np.clip(1 + 1.6 * knit, 0.85, 1.15)
    cracks = np.clip(
        np.abs(bumps(rng, layer.shape, 0.4 * layer.px_per_mm, 1.1 * layer.px_per_mm)) - 2.6, 0, 1
    )
    patchy = np.clip(0.35 + 0.5 * bumps(rng, layer.shape, 18 * layer.px_per_mm), 0, 1)
    hold = 1 - np.clip(worn * (1.2 * cracks + 0.10 * patchy), 0, 0.75)
    for one in picture:
        share = filled(layer, one.outlines) * hold
        pigment = linear(one.colour) * (1 + 0.75 * (texture - 1))[..., None]
        layer.colour += share[..., None] * (pigment - layer.colour)
        layer.height += 0.03 * share


def embroider(layer: Layer, picture: Picture, rng: np.random.Generator) -> None:
    """Satin stitch: raised threads that catch the light, lying side by side."""
    layer = layer.near(points_of(picture))
    rows, columns = np.mgrid[: layer.shape[0], : layer.shape[1]].astype(np.float32)
    sway = 1.2 * bumps(rng, layer.shape, 6 * layer.px_per_mm)
    threads = np.sin(
        (0.55 * columns + rows + sway) * np.float32(2 * np.pi / (0.62 * layer.px_per_mm))
    )
    for one in picture:
        share = filled(layer, one.outlines)
        depth = cv2.distanceTransform((share > 0.5).astype(np.uint8), cv2.DIST_L2, 5) / np.float32(
            layer.px_per_mm
        )
        layer.height += share * (0.5 * np.sqrt(np.clip(depth / 1.1, 0, 1)) + 0.07 * threads)
        pull = blurred(share, 2.2 * layer.px_per_mm) * (1 - share)
        layer.height -= 0.5 * pull
        silk = (
            linear(one.colour)
            * (1 + 0.07 * threads + 0.04 * bumps(rng, layer.shape, 1.5 * layer.px_per_mm))[
                ..., None
            ]
        )
        layer.colour += share[..., None] * (silk.astype(np.float32) - layer.colour)


def scatter(
    layer: Layer,
    pictures: list[Picture],
    rng: np.random.Generator,
    *,
    pitch_mm: float,
    size_mm: float,
    ground: Field,
) -> None:
    """All-over print: small pictures in a half-drop repeat over the ground cloth."""
    rows, columns = layer.shape
    reach_x, reach_y = columns / layer.px_per_mm / 2, rows / layer.px_per_mm / 2
    number = 0
    before = layer.colour.copy()
    for column, x in enumerate(np.arange(-reach_x, reach_x, pitch_mm)):
        for y in np.arange(-reach_y + (column % 2) * pitch_mm / 2, reach_y, pitch_mm):
            picture = pictures[number % len(pictures)]
            number += 2 if column % 2 else 1
            turn = rng.uniform(-25, 25)
            stamp(layer, placed(picture, (float(x), float(y)), size_mm, turn))
    layer.colour = before + ground[..., None] * (layer.colour - before)


def stamp(layer: Layer, picture: Picture) -> None:
    """Print a small picture, drawing only where it lies."""
    part = layer.near(points_of(picture), 0.6)
    tone = part.colour.mean(axis=-1)
    texture = np.clip(tone / (tone.mean() + 1e-4), 0.5, 1.5)
    for one in picture:
        share = np.float32(0.94) * filled(part, one.outlines)[..., None]
        pigment = linear(one.colour) * (1 + np.float32(0.7) * (texture - 1))[..., None]
        part.colour += share * (pigment - part.colour)


def stripe(
    layer: Layer,
    ground: Field,
    colour: Colour,
    *,
    pitch_mm: float,
    share: float,
    rng: np.random.Generator,
) -> None:
    """Knit level stripes into the ground cloth."""
    rows = np.arange(layer.shape[0], dtype=np.float32)[:, None] / np.float32(layer.px_per_mm)
    drift = 0.6 * bumps(rng, layer.shape, 80 * layer.px_per_mm)
    phase = np.abs(np.mod((rows + drift) / np.float32(pitch_mm), 1) - 0.5) * pitch_mm
    line = np.clip((share * pitch_mm / 2 - phase) * layer.px_per_mm + 0.5, 0, 1) * ground
    tone = layer.colour.mean(axis=-1, keepdims=True)
    level = tone / (blurred(tone[..., 0], 3 * layer.px_per_mm)[..., None] + 1e-4)
    layer.colour += line[..., None] * (linear(colour) * level - layer.colour)


def box_of(picture: Picture) -> Box:
    """Tight box of a placed picture: left, top, right, bottom in mm."""
    points = points_of(picture)
    left, top = points.min(axis=0)
    right, bottom = points.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def sew_zip(
    layer: Layer, path: Path, tape: Colour, rng: np.random.Generator, *, pull_at: float = 6.0
) -> None:
    """Set in a zip: two tapes, moulded teeth, rows of stitches, and the slider at the top."""
    layer = layer.near(path, 20.0)
    route = resampled(path, 0.25)
    strip = filled(layer, (np.vstack([beside(route, -4.7), beside(route, 4.7)[::-1]]),))
    woven = 1 + 0.08 * bumps(rng, layer.shape, 0.5 * layer.px_per_mm, 1.5 * layer.px_per_mm)
    layer.colour += strip[..., None] * (
        (linear(tape) * woven[..., None]).astype(np.float32) - layer.colour
    )
    layer.height -= 0.5 * strip
    for inset in (-4.9, 4.9):
        press(layer, beside(route, inset), deep_mm=-1.0, wide_mm=2.4)
        darken(layer, line_mark(layer, beside(route, inset * 0.94), 0.5), 0.4)
    for inset in (-8.0, 8.0):
        stitch(layer, beside(route, inset), (0.9 * tape[0], 0.9 * tape[1], 0.9 * tape[2]))
    teeth(layer, route, tape)
    slider(layer, route, pull_at)


def line_mark(layer: Layer, path: Path, width_mm: float) -> Field:
    """Mark a soft line."""
    mark = np.zeros(layer.shape, np.uint8)
    corners = np.round(layer.px(path) * 16).astype(np.int32)
    cv2.polylines(
        mark, [corners], False, 255, max(1, round(width_mm * layer.px_per_mm)), cv2.LINE_AA, 4
    )
    return blurred(mark.astype(np.float32) / 255, 0.2 * layer.px_per_mm)


def teeth(layer: Layer, route: Path, tape: Colour) -> None:
    """Interlocked teeth, 1.3 mm apart, from both sides in turn."""
    places = resampled(route, 0.72)
    left, right = beside(places, -1.7), beside(places, 1.7)
    mark = np.zeros(layer.shape, np.uint8)
    for number, (a, b, middle) in enumerate(
        zip(layer.px(left), layer.px(right), layer.px(places), strict=True)
    ):
        outer = a if number % 2 else b
        ends = np.round(np.array([outer, middle + 0.25 * (middle - outer)]) * 16).astype(np.int32)
        cv2.polylines(
            mark, [ends], False, 255, max(1, round(0.42 * layer.px_per_mm)), cv2.LINE_AA, 4
        )
    share = mark.astype(np.float32) / 255
    ground = filled(layer, (np.vstack([beside(route, -1.8), beside(route, 1.8)[::-1]]),))
    darken(layer, ground, 0.45)
    glint = linear(np.minimum(255, np.array(tape) * 1.08 + 14))
    layer.colour += 0.85 * share[..., None] * (glint - layer.colour)
    layer.height += 0.7 * share + 0.5 * ground


def slider(layer: Layer, route: Path, at_mm: float) -> None:
    """Slider and pull tab, in grey metal."""
    points = resampled(route, 0.25)
    start = min(len(points) - 80, round(at_mm / 0.25))
    metal = linear((176, 178, 182))
    for first, last, half_width, tall in [
        (start, start + 32, 3.4, 1.8),
        (start + 20, start + 100, 2.6, 2.6),
    ]:
        part = points[first:last]
        body = filled(
            layer, (np.vstack([beside(part, -half_width), beside(part, half_width)[::-1]]),)
        )
        layer.colour += body[..., None] * (metal - layer.colour)
        layer.height += tall * blurred(body, 0.5 * layer.px_per_mm) * body
    hole = points[start + 78 : start + 92]
    ring = filled(layer, (np.vstack([beside(hole, -1.3), beside(hole, 1.3)[::-1]]),))
    darken(layer, ring, 0.6)
    layer.height -= 1.5 * ring

"""Inks and the shapes that motifs are drawn with, about 100 units wide (x right, y down)."""

from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from maker.layer import Colour
from maker.outlines import Path, Raw, curve


@dataclass(frozen=True, kw_only=True)
class Ink:
    """One colour of a print: closed outlines, the inner ones being holes."""

    outlines: tuple[Path, ...]
    colour: Colour


Picture = tuple[Ink, ...]


def ink(colour: Colour, *outlines: Path) -> Ink:
    """Make one ink."""
    return Ink(outlines=outlines, colour=colour)


def oval(x: float, y: float, rx: float, ry: float | None = None, turn_deg: float = 0.0) -> Path:
    """Outline of an ellipse."""
    t = np.linspace(0, 2 * np.pi, 64, endpoint=False)
    points = np.column_stack([rx * np.cos(t), (rx if ry is None else ry) * np.sin(t)])
    cos, sin = np.cos(np.deg2rad(turn_deg)), np.sin(np.deg2rad(turn_deg))
    return np.asarray(points @ np.array([[cos, sin], [-sin, cos]]) + [x, y])


def box(left: float, top: float, right: float, bottom: float, *, round_by: float = 2.0) -> Path:
    """Outline of a box with rounded corners."""
    t = np.linspace(0, np.pi / 2, 8)
    arc = np.column_stack([np.cos(t), np.sin(t)]) * round_by
    inner = [(right, bottom), (left, bottom), (left, top), (right, top)]
    signs = [(-1, -1), (1, -1), (1, 1), (-1, 1)]
    turn = np.array([[0, 1], [-1, 0]])
    parts = []
    for (x, y), (sx, sy) in zip(inner, signs, strict=True):
        parts.append(arc + np.array([x + sx * round_by, y + sy * round_by]))
        arc = arc @ turn
    return np.vstack(parts)


def stroke(points: Raw | Path, width: float) -> Path:
    """Outline of a brush stroke with round ends."""
    path = curve(points)
    ahead = np.gradient(path, axis=0)
    ahead /= np.maximum(np.hypot(*ahead.T), 1e-9)[:, None]
    side = np.column_stack([-ahead[:, 1], ahead[:, 0]]) * width / 2
    t = np.linspace(-np.pi / 2, np.pi / 2, 9)[:, None]
    cap_end = path[-1] + width / 2 * (np.cos(t) * ahead[-1] + np.sin(t) * side[-1] / (width / 2))
    cap_start = path[0] - width / 2 * (np.cos(t) * ahead[0] + np.sin(t) * side[0] / (width / 2))
    return np.vstack([path - side, cap_end, (path + side)[::-1], cap_start])


def star(x: float, y: float, size: float, turn_deg: float = -90.0) -> Path:
    """Outline of a plump five-pointed star."""
    t = np.deg2rad(turn_deg) + np.arange(10) * np.pi / 5
    radius = np.where(np.arange(10) % 2, 0.52, 1.0) * size
    return np.column_stack([x + radius * np.cos(t), y + radius * np.sin(t)])


def words(
    text: str, *, height: float, at: tuple[float, float], bold: float = 0.05, arch: float = 0.0
) -> tuple[Path, ...]:
    """Draw lettering about a middle point; ``arch`` is how far its ends hang down."""
    size = 260
    font = ImageFont.load_default(size)
    _, top, _, bottom = font.getbbox(text, stroke_width=size * bold)
    starts = np.concatenate([[0], np.cumsum([font.getlength(c) + 2.1 * size * bold for c in text])])
    picture = Image.new("L", (int(starts[-1]) + 60, int(bottom - top) + 40), 0)
    draw = ImageDraw.Draw(picture)
    for letter, start in zip(text, starts, strict=False):
        draw.text((30 + start, 20 - top), letter, 255, font, stroke_width=size * bold)
    solid = (np.asarray(picture) > 127).astype(np.uint8)
    outlines, _ = cv2.findContours(solid, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    scale = height / size
    middle = np.array([picture.width / 2, picture.height / 2])
    half = picture.width / 2 * scale
    placed = []
    for outline in outlines:
        if len(outline) < 8:
            continue
        points = (outline[::2, 0].astype(float) - middle) * scale
        points[:, 1] += arch * (points[:, 0] / half) ** 2
        placed.append(points + np.array(at))
    return tuple(placed)

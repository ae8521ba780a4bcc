"""How the photos of `scenes` are painted: exact coverage of pixels, cloth texture, sRGB."""

from dataclasses import dataclass

import cv2
import numpy as np
from camera import Camera
from numpy.typing import NDArray
from shapes import Points, squared

Colour = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Patch:
    """A part of the picture and the share of each of its pixels that a shape covers."""

    rows: slice
    columns: slice
    share: NDArray[np.float32]


def coverage(polygon_px: Points, shape: tuple[int, int]) -> Patch:
    """Share of each pixel that a polygon covers: 0.5 + distance to its outline, within 0..1."""
    low = np.clip(np.floor(polygon_px.min(axis=0)).astype(int) - 3, 0, np.array(shape[::-1]) - 2)
    high = np.clip(np.ceil(polygon_px.max(axis=0)).astype(int) + 4, low + 2, shape[::-1])
    local = polygon_px - low
    pixels = np.zeros((high - low)[::-1], np.uint8)
    rim = np.zeros_like(pixels)
    corners = [np.round(local).astype(np.int32)]
    cv2.fillPoly(pixels, corners, 1)
    cv2.polylines(rim, corners, True, 1, thickness=5)
    share = pixels.astype(np.float32)
    rows, columns = np.nonzero(rim)
    share[rows, columns] = np.clip(0.5 + inward_px(local, columns, rows), 0, 1)
    return Patch(rows=slice(low[1], high[1]), columns=slice(low[0], high[0]), share=share)


def inward_px(polygon: Points, x: NDArray[np.int64], y: NDArray[np.int64]) -> Points:
    """Distance of points to a polygon's outline, positive inside."""
    points = np.column_stack([x, y]).astype(float)
    nearest = np.full(len(points), np.inf)
    inside = np.zeros(len(points), dtype=bool)
    for start, end in zip(polygon, np.roll(polygon, -1, axis=0), strict=True):
        along, to_point = end - start, points - start
        share = np.clip(to_point @ along / max(float(along @ along), 1e-12), 0, 1)
        off = to_point - share[:, None] * along
        nearest = np.minimum(nearest, squared(off)[:, 0])
        crosses = (start[1] > points[:, 1]) != (end[1] > points[:, 1])
        side = along[0] * to_point[:, 1] - along[1] * to_point[:, 0]
        inside ^= crosses & ((side < 0) == (along[1] > 0))
    return np.where(inside, 1, -1) * np.sqrt(nearest)


def summed(cells: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the summed-area table with a zero row and column in front."""
    return np.pad(cells.cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))


def at(table: NDArray[np.float64], x: Points, y: Points) -> Points:
    """Read a table between its entries; beyond its rim white goes on (the table keeps growing)."""
    size = len(table) - 1
    column, row = (np.clip(np.floor(v), 0, size - 1).astype(int) for v in (x, y))
    u, v = x - column, y - row
    return np.asarray(
        table[row, column] * (1 - u) * (1 - v)
        + table[row, column + 1] * u * (1 - v)
        + table[row + 1, column] * (1 - u) * v
        + table[row + 1, column + 1] * u * v
    )


def softened(whole: NDArray[np.float32], px_per_mm: float) -> NDArray[np.float32]:
    """Blur a mask by about 4 mm, at a quarter of its size."""
    small = cv2.resize(whole, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    return np.asarray(cv2.resize(cv2.GaussianBlur(small, (0, 0), px_per_mm), whole.shape[::-1]))


def coarse_table_mm(camera: Camera) -> NDArray[np.float32]:
    """Table position of each pixel, interpolated: good enough for texture."""
    size = (camera.width_px, camera.height_px)
    columns, rows = (np.linspace(0, extent - 1, 64) for extent in size)
    grid = np.stack(np.meshgrid(columns, rows), axis=-1).reshape(-1, 2)
    coarse = camera.unproject(grid).reshape(64, 64, 2).astype(np.float32)
    return np.asarray(cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC))


def weave(
    rng: np.random.Generator, table_mm: NDArray[np.float32], strength: float
) -> NDArray[np.float32]:
    """Uneven brightness of cloth or wood, about 1: a seeded tile repeated over the table."""
    fine = rng.standard_normal((256, 256)).astype(np.float32)
    coarse = cv2.resize(rng.standard_normal((17, 17)).astype(np.float32), (256, 256))
    threads = np.sin(np.arange(256) * 2 * np.pi / 8)
    tile = cv2.blur(fine, (3, 3)) + 0.5 * coarse + 0.4 * np.add.outer(threads, threads)
    where = np.mod(table_mm * 4, 255).astype(np.float32)
    picked = cv2.remap(tile.astype(np.float32), where[..., 0], where[..., 1], cv2.INTER_LINEAR)
    return np.asarray(np.exp(strength * picked))


def linear(colour: Colour) -> NDArray[np.float32]:
    """Linear light of one sRGB colour of 0..255."""
    return linear_of(np.array(colour))


def linear_of(levels: NDArray[np.generic]) -> NDArray[np.float32]:
    """Undo the sRGB encoding of grey levels 0..255; IEC 61966-2-1."""
    share = np.asarray(levels, dtype=float) / 255
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return np.asarray(light.astype(np.float32))


def developed(
    light: NDArray[np.float32], rng: np.random.Generator, noise: float
) -> NDArray[np.uint8]:
    """Encode linear light as sRGB grey levels and add the sensor's noise."""
    steps = np.linspace(0, 1, 65536)
    curve = np.where(steps <= 0.0031308, steps * 12.92, 1.055 * steps ** (1 / 2.4) - 0.055) * 255
    index = (np.clip(light, 0, 1) * np.float32(65535)).astype(np.uint16)
    levels = curve.astype(np.float32)[index]
    if noise:
        levels += noise * rng.standard_normal(levels.shape, dtype=np.float32)
    return np.asarray(cv2.convertScaleAbs(np.maximum(levels, 0)))  # rounds, and stops at 255

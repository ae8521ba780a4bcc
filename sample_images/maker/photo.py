"""From a lit table to a photo: window light, shadows, lens, sensor and the phone's processing."""

from dataclasses import dataclass
from functools import cached_property

import cv2
import numpy as np
from numpy.typing import NDArray

from maker.fields import Field, blurred, bumps, encoded, slopes
from maker.outlines import Path

DIAGONAL_35MM = 43.27  # mm, of the 36 x 24 frame


@dataclass(frozen=True, kw_only=True)
class Camera:
    """Pinhole with one radial term: r focal lengths are seen at r (1 + k r^2)."""

    width_px: int = 2200
    height_px: int = 1650
    focal_35mm: float = 26.0
    tilt_deg: float = 6.0
    azimuth_deg: float = 80.0
    distance_mm: float = 600.0
    aim_mm: tuple[float, float] = (0.0, 0.0)
    distortion: float = 0.006

    @property
    def focal_px(self) -> float:
        """Focal length in pixels."""
        return self.focal_35mm / DIAGONAL_35MM * float(np.hypot(self.width_px, self.height_px))

    @property
    def middle_px(self) -> Path:
        """Middle of the picture."""
        return np.array([(self.width_px - 1) / 2, (self.height_px - 1) / 2])

    @cached_property
    def position_mm(self) -> Path:
        """The lens; z points into the table."""
        tilt, azimuth = np.deg2rad([self.tilt_deg, self.azimuth_deg])
        away = np.sin(tilt) * np.array([np.cos(azimuth), np.sin(azimuth)]) * self.distance_mm
        return np.array([*(np.array(self.aim_mm) + away), -np.cos(tilt) * self.distance_mm])

    @cached_property
    def rotation(self) -> Path:
        """Rows: right, down, forward. Right in the photo is +x on the table at the middle."""
        forward = np.array([*self.aim_mm, 0.0]) - self.position_mm
        forward /= np.linalg.norm(forward)
        right = np.array([1.0, 0.0, 0.0]) - forward[0] * forward
        right /= np.linalg.norm(right)
        return np.stack([right, np.cross(forward, right), forward])

    def project(self, points_mm: Path, height_mm: float | Path = 0.0) -> Path:
        """Map points above the table to the photo."""
        points = np.asarray(points_mm, dtype=float).reshape(-1, 2)
        lifted = np.column_stack([points, -np.broadcast_to(height_mm, len(points))])
        seen = (lifted - self.position_mm) @ self.rotation.T
        flat = seen[:, :2] / seen[:, 2:]
        bent = flat * (1 + self.distortion * (flat**2).sum(axis=1, keepdims=True))
        return np.asarray(bent * self.focal_px + self.middle_px)

    def rays(self) -> Field:
        """Direction of each pixel in the table's frame, scaled to one millimetre of depth."""
        rows, columns = np.mgrid[: self.height_px, : self.width_px].astype(np.float32)
        bent = (
            np.stack([columns, rows], axis=-1) - self.middle_px.astype(np.float32)
        ) / np.float32(self.focal_px)
        flat = bent.copy()
        for _ in range(4):
            flat = bent / (1 + np.float32(self.distortion) * (flat**2).sum(axis=-1, keepdims=True))
        turn = self.rotation.astype(np.float32)
        rays = flat[..., :1] * turn[0] + flat[..., 1:] * turn[1] + turn[2]
        return np.asarray(rays[..., :2] / rays[..., 2:], np.float32)


@dataclass(frozen=True, kw_only=True)
class Light:
    """A window's direction (0: from the right, 90: from below), its height, and the rest."""

    from_deg: float = 215.0
    elevation_deg: float = 40.0
    ambient: float = 0.5
    exposure: float = 0.95
    warmth: float = 0.0
    falloff: float = 0.35
    photographer: float = 0.12
    gloss: float = 0.0
    noise: float = 1.6
    blur_px: float = 0.75
    contrast: float = 0.08


def lit(
    colour: Field, height: Field, px_per_mm: float, light: Light, rng: np.random.Generator
) -> Field:
    """Light a relief from one side, with shadows, and grey corners where little sky is seen."""
    angle, rise = np.deg2rad([light.from_deg, light.elevation_deg])
    towards = np.array([np.cos(angle), np.sin(angle)], np.float32)
    across, down = slopes(height, px_per_mm)
    # the surface's normal is (-slope, 1): facing the light is brighter; flat cloth is 1
    facing = 1 - (across * towards[0] + down * towards[1]) / np.float32(np.tan(rise))
    facing = np.clip(facing / np.sqrt(1 + across**2 + down**2), 0.0, 2.0)
    key = facing * cast_shadow(height, px_per_mm, towards, float(np.tan(rise)))
    sky = sky_seen(height, px_per_mm)
    shade = light.ambient * sky + (1 - light.ambient) * key
    room = room_light(height.shape, towards, light, rng)
    tint = np.array([1 + light.warmth, 1.0, 1 - light.warmth], np.float32)
    radiance = colour * (shade * room * np.float32(light.exposure))[..., None] * tint
    if light.gloss:
        shine = np.clip(facing - 0.9, 0, 1) * room
        radiance += (light.gloss * blurred(shine.astype(np.float32), 1.0))[..., None]
    return np.asarray(radiance, np.float32)


def cast_shadow(height: Field, px_per_mm: float, towards: Field, tan_rise: float) -> Field:
    """Share of the window seen past what stands in the way, softer with distance."""
    small = cv2.resize(height, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    scale = px_per_mm / 2
    hidden = np.zeros_like(small)
    for reach in (0.7, 1.4, 2.2, 3.2, 4.5, 6.0, 8.0, 10.5, 14.0):
        off = -reach * scale * towards
        shift = np.array([[1, 0, off[0]], [0, 1, off[1]]])
        moved = cv2.warpAffine(small, shift, small.shape[::-1], borderMode=cv2.BORDER_REPLICATE)
        over = (blurred(np.asarray(moved), 0.18 * reach * scale) - small) - reach * tan_rise
        hidden = np.maximum(
            hidden, np.clip(over / (0.25 + 0.30 * reach) + 0.5, 0, 1) * (over > -reach)
        )
    soft = blurred(hidden, 0.35 * scale)
    return np.asarray(
        1 - 0.85 * cv2.resize(soft, height.shape[::-1], interpolation=cv2.INTER_LINEAR)
    )


def sky_seen(height: Field, px_per_mm: float) -> Field:
    """Share of the room's light that reaches a point: less beside and between higher things."""
    seen = np.ones_like(height)
    for reach_mm, weight in [(0.8, 0.30), (2.5, 0.32), (7.0, 0.30), (18.0, 0.22)]:
        above = blurred(height, reach_mm * px_per_mm) - height
        seen *= 1 - weight * np.clip(above / np.float32(0.55 * reach_mm), -0.35, 1.6)
    return np.clip(seen, 0.15, 1.25)


def room_light(
    shape: tuple[int, ...], towards: Field, light: Light, rng: np.random.Generator
) -> Field:
    """Uneven light over the table: nearer to the window is brighter; someone leans over it."""
    y = np.linspace(-0.5, 0.5, 64, dtype=np.float32)[:, None] * np.float32(shape[0] / max(shape))
    x = np.linspace(-0.5, 0.5, 64, dtype=np.float32)[None, :] * np.float32(shape[1] / max(shape))
    slope = np.exp(light.falloff * 1.8 * (x * towards[0] + y * towards[1]))
    slope *= 1 + 0.05 * bumps(rng, (64, 64), 26)
    ahead = -(x * towards[0] + y * towards[1])
    aside = x * towards[1] - y * towards[0]
    body = 1 / (
        1 + np.exp(-(ahead - 0.20 + 0.5 * aside**2 + 0.04 * bumps(rng, (64, 64), 30)) / 0.07)
    )
    slope *= 1 - light.photographer * body
    return np.asarray(
        cv2.resize(slope.astype(np.float32), shape[1::-1], interpolation=cv2.INTER_CUBIC)
    )


def seen(
    radiance: Field, height: Field, px_per_mm: float, origin_mm: Path, camera: Camera
) -> Field:
    """Look at the lit relief through the camera: each pixel's ray meets the height it hits."""
    rays = camera.rays()
    start, depth = camera.position_mm[:2].astype(np.float32), np.float32(-camera.position_mm[2])
    smooth = blurred(height, 0.5 * px_per_mm)
    lifted: Field = np.zeros(rays.shape[:2], np.float32)
    for _ in range(3):
        where = start + (depth - lifted)[..., None] * rays
        columns = ((where - origin_mm.astype(np.float32)) * np.float32(px_per_mm)).astype(
            np.float32
        )
        lifted = cv2.remap(
            smooth,
            columns[..., 0],
            columns[..., 1],
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    per_px = camera.distance_mm / camera.focal_px * px_per_mm  # grid cells to a pixel of the photo
    ready = blurred(radiance, 0.42 * per_px) if per_px > 0.7 else radiance
    return np.asarray(
        cv2.remap(
            ready, columns[..., 0], columns[..., 1], cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT
        )
    )


def metered(radiance: Field) -> Field:
    """Expose for a middling grey on average, but keep the brightest parts from burning out."""
    mean, bright = float(radiance.mean()), float(np.percentile(radiance[::8, ::8], 99.5))
    gain = min(0.29 / mean, 1.05 / bright)
    return radiance * np.float32(np.clip(gain, 0.75, 1.8))


def developed(radiance: Field, light: Light, rng: np.random.Generator) -> NDArray[np.uint8]:
    """Lens blur that grows to the rim, vignette, sensor noise, tone curve and sharpening."""
    rows, columns = radiance.shape[:2]
    y = np.linspace(-1, 1, rows, dtype=np.float32)[:, None] * np.float32(0.6)
    x = np.linspace(-1, 1, columns, dtype=np.float32)[None, :] * np.float32(0.8)
    off = x**2 + y**2
    sharp = cv2.GaussianBlur(radiance, (0, 0), light.blur_px)
    soft = cv2.GaussianBlur(radiance, (0, 0), light.blur_px * 2.2)
    share = np.clip(off - 0.25, 0, 1)[..., None]
    picture = (sharp + share * (soft - sharp)) * (1 - 0.20 * off)[..., None]
    picture = np.clip(picture, 0, 1.3)
    picture = np.where(picture > 0.8, 0.8 + 0.2 * np.tanh((picture - 0.8) / 0.25), picture)
    levels = encoded(picture.astype(np.float32)) / 255
    curved = levels + np.float32(light.contrast) * (levels * levels * (3 - 2 * levels) - levels)
    grain: Field = rng.standard_normal((rows, columns, 1), dtype=np.float32)
    tint: Field = rng.standard_normal((rows // 2 + 1, columns // 2 + 1, 3), dtype=np.float32)
    tint = cv2.resize(tint, (columns, rows), interpolation=cv2.INTER_LINEAR)
    grain = cv2.GaussianBlur(grain, (0, 0), 0.55)[..., None] * 1.6
    curved = curved * 255 + np.float32(light.noise) * (grain + 0.45 * tint) * (1.25 - 0.6 * curved)
    halo = curved - cv2.GaussianBlur(curved, (0, 0), 1.4)
    return np.clip(np.round(curved + 0.45 * np.clip(halo, -22, 22)), 0, 255).astype(np.uint8)

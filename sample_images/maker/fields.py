"""Seeded random fields and small picture arithmetic that everything else is built from."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Field = NDArray[Any]  # of float32: the pictures are large
Shape = tuple[int, ...]


def blurred(field: Field, sigma_px: float) -> Field:
    """Gaussian blur; wide ones are done on a reduced copy."""
    if sigma_px < 0.3:
        return field
    shrink = int(max(1, sigma_px // 4))
    if shrink == 1:
        return np.asarray(cv2.GaussianBlur(field, (0, 0), sigma_px))
    size = (max(2, field.shape[1] // shrink), max(2, field.shape[0] // shrink))
    small = cv2.resize(field, size, interpolation=cv2.INTER_AREA)
    small = cv2.GaussianBlur(small, (0, 0), sigma_px / shrink, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(cv2.resize(small, field.shape[1::-1], interpolation=cv2.INTER_LINEAR))


def bumps(
    rng: np.random.Generator, shape: Shape, across_px: float, down_px: float | None = None
) -> Field:
    """Smooth noise of unit spread whose bumps are about this wide and high."""
    down_px = across_px if down_px is None else down_px
    cells = (int(shape[0] / max(down_px, 1.0)) + 3, int(shape[1] / max(across_px, 1.0)) + 3)
    coarse: Field = cv2.GaussianBlur(rng.standard_normal(cells).astype(np.float32), (0, 0), 0.7)
    coarse = coarse / np.float32(coarse.std() + 1e-6)
    size = (round(cells[1] * max(across_px, 1.0)), round(cells[0] * max(down_px, 1.0)))
    # resize, not warpAffine: the latter moves in steps of 1/32 of a cell, which shows
    whole = cv2.resize(coarse, size, interpolation=cv2.INTER_CUBIC)
    left, top = rng.integers(0, size[0] - shape[1] + 1), rng.integers(0, size[1] - shape[0] + 1)
    return np.ascontiguousarray(whole[top : top + shape[0], left : left + shape[1]])


def fractal(
    rng: np.random.Generator, shape: Shape, size_px: float, octaves: int = 4, gain: float = 0.5
) -> Field:
    """Noise with detail at several scales, of about unit spread."""
    total = np.zeros(shape[:2], np.float32)
    weight = 0.0
    for octave in range(octaves):
        total += gain**octave * bumps(rng, shape, size_px / 2**octave)
        weight += gain ** (2 * octave)
    return total / np.float32(np.sqrt(weight))


def slanted(
    rng: np.random.Generator, shape: Shape, along_px: float, across_px: float, angle_deg: float
) -> Field:
    """Smooth noise with bumps that are long in one direction (0: along x)."""
    reach = int(np.hypot(shape[0], shape[1])) + 4
    upright = bumps(rng, (reach, reach), along_px, across_px)
    turn: Field = cv2.getRotationMatrix2D((reach / 2, reach / 2), angle_deg, 1.0)
    turn[:, 2] += np.array([(shape[1] - reach) / 2, (shape[0] - reach) / 2])
    size = (shape[1], shape[0])
    return np.asarray(
        cv2.warpAffine(upright, turn, size, flags=cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    )


def bent(field: Field, dx: Field, dy: Field) -> Field:
    """Move the content of a field by smooth displacements (px)."""
    rows, columns = np.mgrid[: field.shape[0], : field.shape[1]].astype(np.float32)
    return np.asarray(
        cv2.remap(field, columns + dx, rows + dy, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REFLECT)
    )


def ridges(field: Field, width: float) -> Field:
    """Crests where a field passes through zero: 1 there, falling off smoothly."""
    return np.asarray(np.exp(-((field / np.float32(width)) ** 2)))


def slopes(height: Field, px_per_mm: float) -> tuple[Field, Field]:
    """Slope of a height (mm) to the right and downwards."""
    across = cv2.Sobel(height, cv2.CV_32F, 1, 0, ksize=3, scale=px_per_mm / 8)
    down = cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3, scale=px_per_mm / 8)
    return np.asarray(across), np.asarray(down)


def linear(colour: tuple[float, float, float] | NDArray[np.generic]) -> Field:
    """Undo the sRGB encoding of colours of 0..255."""
    share = np.asarray(colour, dtype=np.float32) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4).astype(
        np.float32
    )


def encoded(light: Field) -> Field:
    """Encode linear light as sRGB levels of 0..255."""
    light = np.clip(light, 0, 1)
    return (
        np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055).astype(
            np.float32
        )
        * 255
    )

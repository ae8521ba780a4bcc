"""The finder's net: one square view in, what it says of garment and motifs out.

The file beside this module was made by `motiffit.training`; ``docs/finder.md`` is its card.
"""

import hashlib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.measure.flatview import FlatView
from motiffit.measure.view import View, take_view

__all__ = ["Glance", "Network", "glance_at", "shipped_network"]

Floats = NDArray[np.float32]

_PATH = Path(__file__).with_name("finder.onnx")
_SHA256 = "d2558fc9743adf4571e1a84eea44e56d6b682804d4cf816b0fe03d940341ab79"
_OUTPUTS = ("has", "cells", "masks", "up")

_REACH_PX = 32.0
"""An edge lies exp(output) * _REACH_PX pixels from its cell, as in training."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Glance:
    """What the net sees in one view; boxes as left, top, right, bottom in pixels of the view.

    Attributes
    ----------
    view
        Where it looked.
    p_motif
        Probability, 0..1, that a motif is in view; uncalibrated.
    scores : (n, n) float32
        For each cell of a grid over the view, how well its box fits a motif (IoU hoped for).
    boxes : (n, n, 4) float32
        The box of each cell.
    spreads : (n, n, 4) float32
        Laplace scale of each edge of each box, pixels; uncalibrated.
    cloth : (m, m) float32
        Log odds that a pixel of a finer grid over the view is garment.
    turn_deg
        How far the garment's up lies clockwise from the view's.
    steadiness
        Length of the mean direction: 1 when all of the garment agrees on it.
    """

    view: View
    p_motif: float
    scores: Floats
    boxes: Floats
    spreads: Floats
    cloth: Floats
    turn_deg: float
    steadiness: float


class Network:
    """A net read by OpenCV from an ONNX file's bytes; threads take turns at it."""

    def __init__(self, data: bytes) -> None:
        self._net = cv2.dnn.readNetFromONNX(np.frombuffer(data, np.uint8))
        self._turn = Lock()

    def answer(self, picture: NDArray[np.uint8], hidden: NDArray[np.bool_]) -> list[Floats]:
        """Return the raw outputs for one view; what is hidden is shown as grey."""
        scaled = (picture.astype(np.float32) - 127) / 128
        scaled[hidden] = 0
        with self._turn:
            self._net.setInput(np.ascontiguousarray(scaled.transpose(2, 0, 1)[None]))
            outputs = self._net.forward(list(_OUTPUTS))
        return [np.asarray(out[0], np.float32) for out in outputs]


@lru_cache(maxsize=1)
def shipped_network() -> Network:
    """Read the package's net, once.

    Raises
    ------
    RuntimeError
        If the file is not the one that belongs to this version of the program.
    """
    data = _PATH.read_bytes()
    if hashlib.sha256(data).hexdigest() != _SHA256:
        raise RuntimeError(f"{_PATH} is damaged or of another version: install the program again")
    return Network(data)


def glance_at(flat: FlatView, view: View, *, mirrored: bool = False) -> Glance:
    """Show the net one view and read its answer.

    Parameters
    ----------
    flat
        The metric picture.
    view
        Where to look.
    mirrored
        Whether to show the mirror image; the answer is put back.
    """
    picture, hidden = take_view(flat, view)
    if mirrored:
        shown = shipped_network().answer(picture[:, ::-1], hidden[:, ::-1])
        has, cells, masks, up = _put_back(*shown)
    else:
        has, cells, masks, up = shipped_network().answer(picture, hidden)
    turn_deg, steadiness = _direction(up, masks[0])
    return Glance(
        view=view,
        p_motif=float(_sigmoid(has)[0]),
        scores=_sigmoid(cells[0]),
        boxes=_boxes(cells[1:5], view.px),
        spreads=np.exp(cells[5:9].clip(-6, 6)).transpose(1, 2, 0),
        cloth=masks[0],
        turn_deg=turn_deg,
        steadiness=steadiness,
    )


def _put_back(
    has: Floats, cells: Floats, masks: Floats, up: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return what was said of a mirror image as it is of the picture: left for right."""
    sides = cells[[0, 3, 2, 1, 4, 7, 6, 5, 8]]
    turn = up * np.array([1, -1], np.float32)[:, None, None]
    return has, sides[..., ::-1], masks[..., ::-1], turn[..., ::-1]


def _sigmoid(x: NDArray[np.floating]) -> Floats:
    """Return the logistic function."""
    return np.asarray(1 / (1 + np.exp(-np.clip(x, -40, 40))), np.float32)


def _boxes(log_reach: Floats, px: int) -> Floats:
    """Return the box of each cell."""
    side = log_reach.shape[-1]
    centre = (np.arange(side, dtype=np.float32) + 0.5) * px / side
    left, top, right, low = np.exp(log_reach.clip(-6, 4)) * _REACH_PX
    x, y = centre[None, :], centre[:, None]
    return np.stack([x - left, y - top, x + right, y + low], axis=-1)


def _direction(up: Floats, cloth: Floats) -> tuple[float, float]:
    """Return the mean direction over the garment: degrees clockwise, and its length."""
    side = up.shape[-1]
    weight = cv2.resize(cloth, (side, side), interpolation=cv2.INTER_AREA)
    weight = _sigmoid(np.asarray(weight, np.float32))
    cosine, sine = (float((part * weight).sum() / (weight.sum() + 1e-3)) for part in up)
    return float(np.degrees(np.arctan2(sine, cosine))), float(np.hypot(sine, cosine))

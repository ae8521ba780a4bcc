"""A picture in two parts: groups of like pixels, and the cheapest border between two sets."""

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["count_odds", "cut_in_two", "group_pixels"]

_SAMPLES = 3000
"""Pixels that the groups are made from: with four times as many they come out the same."""

_ROUNDS = 12
"""Steps of k-means; later ones move no pixel that matters."""

_MOST_ODDS = 3.0
"""Log odds that one group of colours can give: 20 to 1, since a colour is never proof."""

_RARE = 0.01
"""Share of a set below which it is chance whether a group occurs in it."""

_ODDS_WEIGHT = 6.0
"""Weight of the log odds against a border's length: below 3 garments vanish, 4 to 8 are alike."""


_LEVELS = 4
"""Grey levels that stand for one unit of log odds while cutting; many would let the border follow
steps of the odds instead of colours."""


def group_pixels(
    features: NDArray[np.float32], usable: NDArray[np.bool_], *, count: int
) -> NDArray[np.intp]:
    """Sort pixels into groups of like features (k-means).

    Parameters
    ----------
    features : (H, W, C) float32
        What pixels are compared by, in units that make the channels equally important.
    usable : (H, W) bool
        Pixels that the groups are made from; the others join the nearest.
    count
        Number of groups.

    Returns
    -------
    (H, W) int
        The number of each pixel's group.
    """
    rng = np.random.default_rng(0)
    samples = features[usable]
    samples = samples[:: max(1, len(samples) // _SAMPLES)]
    centres = _spread_out(samples.astype(np.float64), count, rng).astype(np.float32)
    labels = _nearest(np.ascontiguousarray(samples.T), centres).astype(np.int32)
    stop = (cv2.TERM_CRITERIA_MAX_ITER, _ROUNDS, 0.0)
    found = cv2.kmeans(samples, count, labels, stop, 1, cv2.KMEANS_USE_INITIAL_LABELS)[2]
    flat = np.ascontiguousarray(features.reshape(-1, features.shape[2]).T)
    return _nearest(flat, np.asarray(found, np.float32)).reshape(features.shape[:2])


def _nearest(channels: NDArray[np.float32], centres: NDArray[np.float32]) -> NDArray[np.intp]:
    """Return the number of the nearest centre for points given channel by channel (C, N)."""
    nearest = np.zeros(channels.shape[1], np.intp)
    least = np.full(channels.shape[1], np.inf, np.float32)
    # |p - c|^2 without |p|^2, which is the same for all centres
    for number, centre in enumerate(centres):
        far = (-2 * centre) @ channels + centre @ centre
        closer = far < least
        nearest[closer] = number
        np.minimum(least, far, out=least)
    return nearest


def _spread_out(
    samples: NDArray[np.float64], count: int, rng: np.random.Generator
) -> NDArray[np.float64]:
    """Choose samples that lie far from one another, as k-means++ does."""
    chosen = [samples[len(samples) // 2]]
    far = _squared(samples, chosen[0][None])[:, 0]
    for _ in range(count - 1):
        share = np.cumsum(np.maximum(far, 1e-9))
        chosen.append(samples[np.searchsorted(share, rng.random() * share[-1])])
        far = np.minimum(far, _squared(samples, chosen[-1][None])[:, 0])
    return np.array(chosen)


def _squared(points: NDArray[np.floating], centres: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return squared distances (N, K) of points from centres."""
    squares = (points**2).sum(axis=1)[:, None] + (centres**2).sum(axis=1)
    return np.asarray(np.maximum(squares - 2 * points @ centres.T, 0))


def count_odds(
    groups: NDArray[np.intp], inside: NDArray[np.bool_], outside: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """Return, per pixel, how much its group speaks for the inside (log odds), by counting.

    Examples
    --------
    >>> groups = np.array([[0, 0, 1, 1]])
    >>> left = np.array([[True, True, False, False]])
    >>> count_odds(groups, left, ~left).round(1)
    array([[ 3.,  3., -3., -3.]], dtype=float32)
    """
    count = int(groups.max()) + 1
    here, there = (
        np.bincount(groups[part], minlength=count) / max(1, int(part.sum()))
        for part in (inside, outside)
    )
    odds = np.log((here + _RARE) / (there + _RARE)).clip(-_MOST_ODDS, _MOST_ODDS)
    return np.asarray(odds[groups], np.float32)


def cut_in_two(
    odds: NDArray[np.float32], lab: NDArray[np.float32], usable: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Part the inside from the outside where that costs least (minimum cut).

    Each pixel on the unlikely side costs its log odds; the border costs its length, less where the
    colour changes along it.

    Parameters
    ----------
    odds : (H, W) float32
        Log odds of a pixel being inside.
    lab : (H, W, 3) float32
        Colours.
    usable : (H, W) bool
        The others are outside whatever their odds.

    Returns
    -------
    (H, W) bool
        True inside.
    """
    inside = (odds > 0) & usable
    if not inside.any() or inside.all():
        return inside
    # OpenCV's GrabCut with its colour models held fixed is a plain minimum cut. The first channel
    # carries the odds; in the others, the two main axes of colour, both models are blind.
    seen = lab[usable]
    middle = seen.mean(axis=0)
    axes = np.linalg.eigh((seen - middle).T @ (seen - middle))[1][:, 1:]
    levels = np.dstack([odds * _LEVELS, (lab - middle) @ axes * 2]) + np.float32(128)
    picture = np.clip(levels, 0, 255).astype(np.uint8)
    marks = np.where(inside, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    marks[~usable] = cv2.GC_BGD
    outside_model, inside_model = _blind_model(-1), _blind_model(+1)
    nothing = (0, 0, 1, 1)
    how = cv2.GC_EVAL_FREEZE_MODEL
    cv2.grabCut(picture, marks, nothing, outside_model, inside_model, 1, how)
    return np.isin(marks, (cv2.GC_FGD, cv2.GC_PR_FGD))


def _blind_model(sign: int) -> NDArray[np.float64]:
    """Return a colour model of one Gaussian that sees the first channel only.

    The log ratio of two of them, 64 levels apart, grows evenly with the level: its slope is
    64 / variance.
    """
    variance = 64 * _LEVELS / _ODDS_WEIGHT
    weights = np.array([1.0, 0, 0, 0, 0])
    means = np.tile([128.0 + 32 * sign, 128, 128], 5)
    covariances = np.tile(np.diag([variance, 1e6, 1e6]).ravel(), 5)
    return np.concatenate([weights, means, covariances])[None]

"""From the many overlapping boxes of one glance or two to a few, with the spread of their edges."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from motiffit.measure.network import Glance

__all__ = ["Vote", "common_votes", "count_votes", "overlap"]

_AGREE_IOU = 0.6
"""Boxes that overlap the best one by this much vote with it."""

_AGREE_SCORE = 0.5
"""Share of the best score that a box needs for a vote."""

_APART_IOU = 0.1
"""A further motif may overlap a better one by this much at most: parts of a group overlap more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vote:
    """One box that the cells of a glance agree on.

    Attributes
    ----------
    box : (4,) float64
        Left, top, right, bottom, pixels of the view.
    spread : (4,) float64
        Laplace scale of each edge, pixels; uncalibrated.
    score
        The best cell's score, 0..1; of two glances, the mean of the best that each has for it.
    """

    box: NDArray[np.float64]
    spread: NDArray[np.float64]
    score: float

    @property
    def longest(self) -> float:
        """Longer side of the box, pixels."""
        return float((self.box[2:] - self.box[:2]).max())


def count_votes(glance: Glance, *, least_score: float, most: int) -> list[Vote]:
    """Return the boxes that stand apart from each other, best first.

    Parameters
    ----------
    glance
        The net's answer.
    least_score
        Below this a box does not count.
    most
        How many boxes to return at most.
    """
    scores = glance.scores.ravel().astype(np.float64)
    boxes = glance.boxes.reshape(-1, 4).astype(np.float64)
    spreads = glance.spreads.reshape(-1, 4).astype(np.float64)
    left = scores.copy()
    votes: list[Vote] = []
    while len(votes) < most and left.max() >= least_score:
        best = int(left.argmax())
        agree = (overlap(boxes[best], boxes) > _AGREE_IOU) & (scores > _AGREE_SCORE * scores[best])
        agree[best] = True
        weight = scores[agree] / np.exp(np.log(spreads[agree]).mean(axis=1))
        weight /= weight.sum()
        vote = Vote(
            box=weight @ boxes[agree], spread=weight @ spreads[agree], score=float(scores[best])
        )
        votes.append(vote)
        left[_touches(vote.box, boxes)] = 0
        left[best] = 0
    return votes


def common_votes(one: Glance, other: Glance, *, least_score: float, most: int) -> list[Vote]:
    """Return the boxes that two glances at the same view agree on best, apart from each other.

    Parameters
    ----------
    one, other
        The net's answers for the same view.
    least_score
        Below this a box does not count in its own glance.
    most
        How many boxes to return at most.
    """
    agreed = [
        replace(vote, score=(vote.score + _support(beside, vote.box)) / 2)
        for glance, beside in ((one, other), (other, one))
        for vote in count_votes(glance, least_score=least_score, most=most)
    ]
    votes: list[Vote] = []
    for vote in sorted(agreed, key=lambda vote: vote.score, reverse=True):
        if len(votes) < most and not any(_touches(v.box, vote.box[None])[0] for v in votes):
            votes.append(vote)
    return votes


def _support(glance: Glance, box: NDArray[np.float64]) -> float:
    """Return the best score that a glance has for a box, 0 where none of its own is like it."""
    alike = overlap(box, glance.boxes.reshape(-1, 4).astype(np.float64)) > _AGREE_IOU
    return float(glance.scores.ravel()[alike].max(initial=0.0))


def overlap(box: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the intersection over union of a box with each of others (N, 4)."""
    shared = _shared(box, others)
    joint = _area(box[None]) + _area(others) - shared
    return np.asarray(shared / np.maximum(joint, 1e-9))


def _touches(box: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Tell which boxes share more than a little with one, in parts of the smaller of both."""
    smaller = np.minimum(_area(box[None]), _area(others))
    return np.asarray(_shared(box, others) > _APART_IOU * np.maximum(smaller, 1e-9))


def _shared(box: NDArray[np.float64], others: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the area that a box shares with each of others."""
    low = np.maximum(box[:2], others[:, :2])
    high = np.minimum(box[2:], others[:, 2:])
    return np.asarray(np.maximum(high - low, 0).prod(axis=1))


def _area(boxes: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the areas of boxes (N, 4)."""
    return np.asarray((boxes[:, 2:] - boxes[:, :2]).prod(axis=1))

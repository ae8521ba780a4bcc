"""Whether a garment has a motif at all: what the net said of it in up to three looks, weighed."""

from dataclasses import replace

import numpy as np

from motiffit.measure.flatview import FlatView
from motiffit.measure.network import Glance, mirrored_opinion
from motiffit.measure.odds import log_odds, probability
from motiffit.measure.votes import Vote

__all__ = ["LEAST_P", "WORTH_A_LOOK", "p_at_most", "p_of_motif"]

_WEIGHTS = np.array([-0.63, 0.61, 0.51, 0.56, 0.93])
"""Log odds of a motif: constant, then weights of the log odds of the net's own opinion, of its best
box's score and of that box's score from near, and of the log of the box's longer side in units of
100 mm: what is as small as a button mostly is one. A logistic fit on 1,481 photos, each seen by one
of six nets that knew none of its home and had learnt makers' marks besides, as the shipped one has
not (docs/finder.md)."""

LEAST_P = 0.17
"""Below this probability a garment has no motif: of those photos 15 motifs were taken for none and
78 garments without one are to be looked at. At 0.4 it would be 35 and 40."""

WORTH_A_LOOK, _SURE = 0.05, 0.7
"""Between these probabilities the net is asked once more: in one photo of seven."""

_AGAIN_PX = 256
"""Pixels of the view that it is shown then."""

_BEST_SCORE = 0.97
"""No look from near scores higher."""


def p_at_most(glance: Glance, best: Vote) -> float:
    """Return the probability of a motif if the best box of a glance had the best score from near.

    Below `WORTH_A_LOOK` no look from near could make a motif of it.
    """
    net, score, near = (log_odds(p) for p in (glance.p_motif, best.score, _BEST_SCORE))
    return _weighed(net, score, near, _longest_mm(glance, best))


def p_of_motif(flat: FlatView, glance: Glance, best: Vote, near_score: float) -> float:
    """Return the probability of a motif.

    Parameters
    ----------
    flat
        The metric picture; looked at again, mirrored and coarser, where the answer is doubtful.
    glance
        The look at the garment alone.
    best
        Its best box.
    near_score
        The score which that box has from near, 0..1.
    """
    net, score, near = (log_odds(p) for p in (glance.p_motif, best.score, near_score))
    longest_mm = _longest_mm(glance, best)
    p_motif = _weighed(net, score, near, longest_mm)
    if not WORTH_A_LOOK < p_motif < _SURE:
        return p_motif
    again = mirrored_opinion(flat, replace(glance.view, px=_AGAIN_PX))
    net, score = (net + log_odds(again.p_motif)) / 2, (score + log_odds(again.score)) / 2
    return _weighed(net, score, near, longest_mm)


def _weighed(net: float, score: float, near: float, longest_mm: float) -> float:
    """Return the probability of a motif by the log odds that speak for it and by its size."""
    evidence = np.array([1.0, net, score, near, np.log(longest_mm / 100)])
    return probability(float(evidence @ _WEIGHTS))


def _longest_mm(glance: Glance, best: Vote) -> float:
    """Return the longer side of a box."""
    return max(float((best.box[2:] - best.box[:2]).max()) * glance.view.mm_per_px, 1.0)

"""Whether a garment has a motif at all: what the net said of it in its looks, weighed."""

from collections.abc import Sequence

import numpy as np

from motiffit.measure.network import Glance
from motiffit.measure.odds import log_odds, probability
from motiffit.measure.votes import Vote

__all__ = ["LEAST_P", "WORTH_A_LOOK", "p_at_most", "p_of_motif"]

_WEIGHTS = np.array([-0.63, 0.61, 0.51, 0.56, 0.93])
"""Log odds of a motif: constant, then weights of the log odds of the net's own opinion, of its best
score for any box and of the best box's score from near, and of the log of its longer side in units
of 100 mm: what is as small as a button mostly is one. A logistic fit on 1,481 photos, each seen by
one of six nets of another training that knew none of its home (docs/finder.md)."""

LEAST_P = 0.16
"""Below this probability a garment has no motif. By six nets trained as the shipped one 23
motifs of 724 were taken for none, and 60 garments of 757 for ones with a motif."""

WORTH_A_LOOK = 0.05
"""Below this probability nothing more is looked at; lower than `LEAST_P`, as further looks may
raise it."""

_BEST_SCORE = 0.97
"""No look from near scores higher."""


def p_at_most(glance: Glance, best: Vote) -> float:
    """Return the probability of a motif if the best box of a glance had the best score from near.

    Below `WORTH_A_LOOK` no look from near could make a motif of it.
    """
    return p_of_motif((glance,), best, _BEST_SCORE)


def p_of_motif(glances: Sequence[Glance], best: Vote, near_score: float) -> float:
    """Return the probability of a motif.

    Parameters
    ----------
    glances
        One look or more at the same square about the garment; they count alike. The box is in
        pixels of the first.
    best
        The best box.
    near_score
        The score which that box has from near, 0..1.
    """
    net = np.mean([log_odds(glance.p_motif) for glance in glances])
    score = np.mean([log_odds(float(glance.scores.max())) for glance in glances])
    longest_mm = best.longest * glances[0].view.mm_per_px
    size = np.log(max(longest_mm, 1.0) / 100)
    evidence = np.array([1.0, net, score, log_odds(near_score), size])
    return probability(float(evidence @ _WEIGHTS))

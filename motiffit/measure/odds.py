"""Probabilities and their log odds, for sums of evidence."""

from math import exp, log

__all__ = ["log_odds", "probability"]

_LEAST_P = 1e-4


def log_odds(p: float) -> float:
    """Return the log odds of a probability, within what ten thousand cases can tell."""
    kept = min(max(p, _LEAST_P), 1 - _LEAST_P)
    return log(kept / (1 - kept))


def probability(odds: float) -> float:
    """Return the probability of log odds: the logistic function.

    Examples
    --------
    >>> probability(log_odds(0.25))
    0.25
    """
    return 1 / (1 + exp(-odds))

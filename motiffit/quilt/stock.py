"""Cutting stock: the fewest strips of cloth from which all pieces can be cut, with a proof.

The pieces of one strip are a pattern. Patterns that pay are generated one by one (the cutting
stock method of Gilmore and Gomory, 1961): a linear programme prices each length, a knapsack finds
the pattern worth most at those prices. From the same prices follows a bound that no cutting can
beat. It is worked out in whole numbers, so its proof does not lean on the solver's rounding.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

import numpy as np
from scipy.optimize import LinearConstraint, linprog, milp

from motiffit.quilt.lengths import common_measure

__all__ = ["CutPattern", "Cutting", "cut_strips", "first_fit", "full_patterns", "solve_patterns"]

Pattern = tuple[int, ...]
Plan = list[tuple[Pattern, int]]

_MOST_ROUNDS = 200
_MOST_PATTERNS = 5_000
_MOST_STEPS = 300_000  # looking for them, a third of a second
_FINEST_ROOM = 1_000_000  # steps in which a strip is measured; finer ones would fill the memory
_PRICE_UNIT = 10**9
_SOLVER_SLACK = 1e-6
# Most cuttings are settled at the first node, 20 random lengths took 234. Nodes are counted rather
# than seconds, so that the answer is the same on a busy machine; the clock is for disasters only.
_MOST_NODES, _LONGEST_S = 300, 20.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CutPattern:
    """One way to cut a strip: which lengths, each how often, and how many strips like it."""

    pieces: tuple[tuple[Fraction, int], ...]
    strips: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """How to cut pieces of one width from strips across the cloth.

    Attributes
    ----------
    patterns
        Longest pieces first.
    strips
        How many strips in all.
    at_least
        No cutting can do with fewer.
    """

    patterns: tuple[CutPattern, ...]
    strips: int
    at_least: int

    @property
    def is_proven(self) -> bool:
        """Whether no cutting with fewer strips exists."""
        return self.strips == self.at_least


def cut_strips(demand: Mapping[Fraction, int], cloth_width_mm: Fraction) -> Cutting:
    """Cut pieces from as few strips as possible.

    Where the solver gives up, the best cutting known is returned, with a bound below it.

    Parameters
    ----------
    demand
        Number of pieces of each length, in mm.
    cloth_width_mm
        Length of a strip: the usable width of the cloth.

    Raises
    ------
    ValueError
        If a piece is longer than the cloth is wide.

    References
    ----------
    Gilmore, P. C. and Gomory, R. E. (1961). A linear programming approach to the cutting-stock
    problem. Operations Research 9(6), 849-859.
    """
    lengths = sorted((length for length, count in demand.items() if count > 0), reverse=True)
    if not lengths:
        return Cutting(patterns=(), strips=0, at_least=0)
    if lengths[0] > cloth_width_mm:
        raise ValueError(f"a piece of {float(lengths[0])} mm is longer than the cloth is wide")
    counts = [demand[length] for length in lengths]
    unit = common_measure(lengths)
    sizes = [int(length / unit) for length in lengths]
    plan, at_least = _cut(sizes, counts, int(cloth_width_mm / unit))
    return Cutting(
        patterns=tuple(_to_cut_pattern(lengths, pattern, strips) for pattern, strips in plan),
        strips=sum(strips for _, strips in plan),
        at_least=at_least,
    )


def first_fit(sizes: Sequence[int], counts: Sequence[int], room: int) -> Plan:
    """Fill strip after strip, each time with the longest piece left that still fits."""
    left = list(counts)
    plan = []
    while any(left):
        rest, pattern = room, []
        for size, count in zip(sizes, left, strict=True):
            taken = min(count, rest // size)
            rest -= taken * size
            pattern.append(taken)
        strips = min(have // take for have, take in zip(left, pattern, strict=True) if take)
        left = [have - strips * take for have, take in zip(left, pattern, strict=True)]
        plan.append((tuple(pattern), strips))
    return plan


def solve_patterns(
    patterns: Sequence[Pattern],
    costs: Sequence[float],
    counts: Sequence[int],
) -> tuple[Plan, float]:
    """Choose patterns that yield at least the counts at the least cost.

    Returns
    -------
    tuple[list[tuple[Pattern, int]], float]
        The patterns chosen, each with how often, without pieces to spare; empty when the
        solver gave up before any choice was found. Then the solver's bound on the cost.
    """
    answer = milp(
        np.array(costs),
        constraints=LinearConstraint(np.array(patterns).T, np.array(counts), np.inf),
        integrality=np.ones(len(patterns)),
        options={"node_limit": _MOST_NODES, "time_limit": _LONGEST_S, "mip_rel_gap": 0.0},
    )
    if answer.x is None:
        return [], 0.0
    chosen = zip(patterns, (round(times) for times in answer.x), strict=True)
    plan = _without_surplus([(pattern, times) for pattern, times in chosen if times], counts)
    return plan, float(answer.mip_dual_bound)


def full_patterns(sizes: Sequence[int], counts: Sequence[int], room: int) -> list[Pattern]:
    """List every pattern that no further piece fits into; empty when there are too many."""
    found: list[Pattern] = []
    stack: list[tuple[Pattern, int]] = [((), room)]
    for _ in range(_MOST_STEPS):
        if not stack or len(found) > _MOST_PATTERNS:
            break
        begun, rest = stack.pop()
        place = len(begun)
        most = min(counts[place], rest // sizes[place])
        if place == len(sizes) - 1:
            pattern = (*begun, most)
            spare = rest - most * sizes[place]
            if not _has_room(pattern, sizes, counts, spare):
                found.append(pattern)
        else:
            stack += [((*begun, taken), rest - taken * sizes[place]) for taken in range(most + 1)]
    return [] if stack else found


def _has_room(pattern: Pattern, sizes: Sequence[int], counts: Sequence[int], spare: int) -> bool:
    """Whether one more piece would fit."""
    return any(
        size <= spare and taken < count
        for size, taken, count in zip(sizes, pattern, counts, strict=True)
    )


def _cut(sizes: Sequence[int], counts: Sequence[int], room: int) -> tuple[Plan, int]:
    """Cut with as much effort as the proof needs: the plan and the bound."""
    plan = first_fit(sizes, counts, room)
    total = sum(size * count for size, count in zip(sizes, counts, strict=True))
    at_least = ceil(Fraction(total, room))
    if _strips_of(plan) == at_least or room > _FINEST_ROOM:
        return plan, at_least
    patterns, bound = _paying_patterns([pattern for pattern, _ in plan], sizes, counts, room)
    at_least = max(at_least, bound)
    better, _ = solve_patterns(patterns, [1.0] * len(patterns), counts)
    plan = _fewer(plan, better)
    every = [] if _strips_of(plan) == at_least else full_patterns(sizes, counts, room)
    if every:
        best, reached = solve_patterns(every, [1.0] * len(every), counts)
        plan = _fewer(plan, best)
        at_least = max(at_least, ceil(reached - _SOLVER_SLACK))
    return plan, at_least


def _strips_of(plan: Plan) -> int:
    """How many strips a plan needs."""
    return sum(strips for _, strips in plan)


def _fewer(plan: Plan, other: Plan) -> Plan:
    """Plan with fewer strips; an empty one is none."""
    return other if other and _strips_of(other) < _strips_of(plan) else plan


def _paying_patterns(
    known: Sequence[Pattern], sizes: Sequence[int], counts: Sequence[int], room: int
) -> tuple[list[Pattern], int]:
    """Add patterns to those known until none pays: the patterns and the bound they prove."""
    patterns, at_least = list(dict.fromkeys(known)), 0
    for _ in range(_MOST_ROUNDS):
        prices = _prices(patterns, counts)
        worth, pattern = _richest_pattern(prices, sizes, counts, room)
        # no strip yields more than `worth`, so the demand's whole worth needs this many
        demand = sum(price * count for price, count in zip(prices, counts, strict=True))
        at_least = max(at_least, ceil(Fraction(demand, worth)))
        if pattern in patterns:
            break
        patterns.append(pattern)
    return patterns, at_least


def _prices(patterns: Sequence[Pattern], counts: Sequence[int]) -> list[int]:
    """Worth of one piece of each length, in billionths of a strip."""
    answer = linprog(
        np.ones(len(patterns)), A_ub=-np.array(patterns).T, b_ub=-np.array(counts), method="highs"
    )
    return [max(0, int(-price * _PRICE_UNIT)) for price in answer.ineqlin.marginals]


def _richest_pattern(
    prices: Sequence[int], sizes: Sequence[int], counts: Sequence[int], room: int
) -> tuple[int, Pattern]:
    """Pattern of the greatest worth: a knapsack, exact as all numbers are whole."""
    best = np.zeros(room + 1, dtype=np.int64)  # by room used up
    choices = []
    for price, size, count in zip(prices, sizes, counts, strict=True):
        before, taken = best.copy(), np.zeros(room + 1, dtype=np.int64)
        for number in range(1, min(count, room // size) + 1) if price else ():
            worth = before[: room + 1 - number * size] + number * price
            better = worth > best[number * size :]
            best[number * size :][better] = worth[better]
            taken[number * size :][better] = number
        choices.append(taken)
    left, pattern = room, []
    for taken, size in zip(reversed(choices), reversed(sizes), strict=True):
        pattern.append(int(taken[left]))
        left -= pattern[-1] * size
    return int(best[room]), tuple(reversed(pattern))


def _without_surplus(plan: Plan, counts: Sequence[int]) -> Plan:
    """Drop pieces beyond the demand, from the last strips on."""
    left, trimmed = list(counts), []
    for pattern, strips in plan:
        for _ in range(strips):
            taken = tuple(min(take, have) for take, have in zip(pattern, left, strict=True))
            left = [have - take for take, have in zip(taken, left, strict=True)]
            trimmed.append(taken)
    tally = Counter(pattern for pattern in trimmed if any(pattern))
    return list(tally.items())


def _to_cut_pattern(lengths: Sequence[Fraction], pattern: Pattern, strips: int) -> CutPattern:
    """Name the lengths of a pattern."""
    pieces = tuple((length, count) for length, count in zip(lengths, pattern, strict=True) if count)
    return CutPattern(pieces=pieces, strips=strips)

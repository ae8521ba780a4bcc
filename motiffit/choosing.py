"""Choosing the sizes for a whole pile: what each size set would do, and the fewest that suffice.

For one garment the sizes that hold its motif are all those from a least one upward, and those that
its cloth allows all those up to a largest one. The best set of a given number of sizes follows by
dynamic programming over the sizes that may be chosen, so it is exact: with ``best(j, k)`` the least
cost of serving every garment whose need is no more than size ``j`` with ``k`` sizes, ``j`` the
largest, ``best(j, k) = min over i < j of best(i, k - 1) + cost of giving j to needs in (i, j]``.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from motiffit.ledger import Entry
from motiffit.measure.placed import fit_square, placed_box
from motiffit.measure.report import OF_THE_FIT
from motiffit.measure.window import P_CLEAR, P_MAYBE, SHORT_CODES, judge_size
from motiffit.record import Sizing

__all__ = [
    "Need",
    "Outsize",
    "SetTrial",
    "best_sets",
    "find_outsize",
    "least_size",
    "need_of",
    "propose",
    "try_set",
]

_SETTLED_MM = 0.01  # how finely the least size is found; far below what a ruler shows
_FARTHEST_MM = 4000.0
_MOST_OUTSIZE, _OUTSIZE_SHARE = 3, 0.25
"""So many garments, and no larger a part of the pile, are a few that one might leave out."""

_WORTH_LEAVING_OUT = 0.2
"""Part by which the largest size must shrink without them: less is no reason to give up any."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one garment asks of a size.

    Attributes
    ----------
    photo
        Its photo.
    least_mm
        The least finished size that holds the motif clear of the seam line, surely enough.
    maybe_mm
        The least that may well do: where the set has such a size below the one given, a person has
        to look which of the two to take.
    cloth_mm
        The largest of the sizes tried for which its cloth suffices without an extension piece; 0
        when it suffices for none, infinite when the garment's outline is not known.
    ample_mm
        Likewise the largest whose square ends clear of the garment's edge: beyond it, a person has
        to see whether all of it lies on cloth.
    is_doubtful
        Whether it needs a person's eye whatever the size.
    accepted_mm
        The size at which a person accepted the answer; None where nobody did.
    """

    photo: str
    least_mm: float
    maybe_mm: float
    cloth_mm: float
    ample_mm: float
    is_doubtful: bool
    accepted_mm: float | None = None

    def is_held_by(self, size_mm: float) -> bool:
        """Tell whether a size holds the motif."""
        return size_mm >= self.least_mm - _SETTLED_MM

    def needs_an_eye(self, size_mm: float, sizes_mm: Sequence[float]) -> bool:
        """Tell whether a person has to look at the size that a set gives it."""
        if size_mm > self.cloth_mm:
            return True
        if self.accepted_mm is not None and abs(size_mm - self.accepted_mm) < _SETTLED_MM:
            return False
        return (
            self.is_doubtful
            or size_mm > self.ample_mm
            or any(size >= self.maybe_mm and not self.is_held_by(size) for size in sizes_mm)
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class SetTrial:
    """What a size set would do for a pile.

    Attributes
    ----------
    sizes_mm
        The set.
    squares
        How many garments get each size, in the order of ``sizes_mm``.
    fit
        Garments that need nobody's eye.
    check
        Garments that get a size but need an eye, those that need an extension piece included.
    extend
        Garments that need an extension piece.
    cut
        Garments whose motif no size of the set holds.
    spare_mm
        By how much the size is larger than needed, over all garments that get one.
    """

    sizes_mm: tuple[float, ...]
    squares: tuple[int, ...]
    fit: tuple[Need, ...]
    check: tuple[Need, ...]
    extend: tuple[Need, ...]
    cut: tuple[Need, ...]
    spare_mm: float

    @property
    def cost(self) -> "_Cost":
        """What is to be kept small."""
        return _Cost(len(self.extend), self.spare_mm)


class _Cost(NamedTuple):
    """What is to be kept small: extension pieces first, then cloth beyond need (mm)."""

    extend: int
    spare_mm: float

    def plus(self, other: "_Cost") -> "_Cost":
        """Add two costs."""
        return _Cost(self.extend + other.extend, self.spare_mm + other.spare_mm)

    def rounded(self) -> "_Cost":
        """Leave off what the order of summing changes."""
        return _Cost(self.extend, round(self.spare_mm, 3))


_Best = tuple[_Cost, tuple[int, ...]]
"""A cost, and the numbers of the sizes that it is for."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outsize:
    """The few garments for which alone the largest size is so large.

    Attributes
    ----------
    needs
        These garments, the largest motif first.
    without
        The set that would be proposed without them.
    """

    needs: tuple[Need, ...]
    without: SetTrial


def least_size(entry: Entry) -> float:
    """Return the least finished size (mm) for a garment with a motif: a person's word, or measured.

    Measured, it is the least that holds the motif surely enough, to `_SETTLED_MM`.
    """
    return _least_sure(entry, P_CLEAR)


def need_of(entry: Entry, sizes_mm: Sequence[float]) -> Need:
    """Return what a garment with a motif asks of a size.

    Parameters
    ----------
    entry
        Its photo.
    sizes_mm
        Sizes that may be chosen, ascending.
    """
    sizing, own_mm = entry.sizing, entry.said.size_mm
    least = least_size(entry)
    is_answer_kept = own_mm is not None and sizing.settings.sizes_mm == (own_mm,)
    # a card on the motif lies there whatever the size; one on the square alone is told with it
    may_change = frozenset() if is_answer_kept else OF_THE_FIT - {"reference-in-the-way"}
    doubts = {m.code for m in sizing.messages if m.severity == "warning"} - may_change
    accepted = sizing.window.finished_mm if sizing.window and entry.is_accepted else None
    tried = [s for s in sizes_mm if s >= least - _SETTLED_MM]
    cloth = _largest_without(SHORT_CODES, sizing, tried)
    return Need(
        photo=entry.photo,
        least_mm=least,
        maybe_mm=least if sizing.settings.place else _least_sure(entry, P_MAYBE),
        cloth_mm=cloth,
        ample_mm=_largest_without({"cloth-scant"}, sizing, [s for s in tried if s <= cloth]),
        is_doubtful=bool(doubts) and not (is_answer_kept and accepted),
        accepted_mm=accepted,
    )


def try_set(needs: Iterable[Need], sizes_mm: Sequence[float]) -> SetTrial:
    """Give every garment the smallest size of a set that holds its motif, and count.

    Parameters
    ----------
    needs
        The garments.
    sizes_mm
        The set, ascending.
    """
    given = [(need, next((s for s in sizes_mm if need.is_held_by(s)), None)) for need in needs]
    held = [(need, size) for need, size in given if size is not None]
    extend = tuple(need for need, size in held if size > need.cloth_mm)
    check = tuple(need for need, size in held if need.needs_an_eye(size, sizes_mm))
    return SetTrial(
        sizes_mm=tuple(sizes_mm),
        squares=tuple(sum(size == other for _, other in held) for size in sizes_mm),
        fit=tuple(need for need, size in held if not need.needs_an_eye(size, sizes_mm)),
        check=check,
        extend=extend,
        cut=tuple(need for need, size in given if size is None),
        spare_mm=sum(size - need.least_mm for need, size in held),
    )


def best_sets(needs: Sequence[Need], sizes_mm: Sequence[float]) -> tuple[SetTrial, ...]:
    """Return the best set of one size, of two, and so on, each holding every motif that any holds.

    Best is, in this order: fewest extension pieces, least cloth beyond what is needed. Sets that
    are no better than one with fewer sizes are left out, so every further size earns its place.

    Parameters
    ----------
    needs
        The garments.
    sizes_mm
        Sizes to choose from, ascending and different.
    """
    held = [need for need in needs if need.is_held_by(sizes_mm[-1])]
    if not held:
        return ()
    largest = max(held, key=lambda need: need.least_mm)
    last = next(number for number, size in enumerate(sizes_mm) if largest.is_held_by(size))
    better: list[SetTrial] = []
    for numbers in _best_by_count(held, sizes_mm[: last + 1]):
        trial = try_set(needs, [sizes_mm[number] for number in numbers])
        if not better or trial.cost.rounded() < better[-1].cost.rounded():
            better.append(trial)
    return tuple(better)


def propose(sets: Sequence[SetTrial]) -> SetTrial:
    """Return the set of the fewest sizes that spares every extension piece that can be spared.

    Parameters
    ----------
    sets
        From `best_sets`, at least one.
    """
    fewest = min(len(trial.extend) for trial in sets)
    return next(trial for trial in sets if len(trial.extend) == fewest)


def find_outsize(
    needs: Sequence[Need], sizes_mm: Sequence[float], proposed: SetTrial
) -> Outsize | None:
    """Find the few garments without which the largest size would be much smaller; None for none.

    Parameters
    ----------
    needs
        All garments.
    sizes_mm
        Sizes to choose from, ascending.
    proposed
        The set proposed for all of them.
    """
    ordered = sorted(needs, key=lambda need: -need.least_mm)
    largest = proposed.sizes_mm[-1]
    found: tuple[float, Outsize] | None = None
    for count in range(1, min(_MOST_OUTSIZE, int(_OUTSIZE_SHARE * len(ordered))) + 1):
        without = propose(best_sets(ordered[count:], sizes_mm))
        saved = largest - without.sizes_mm[-1]
        if saved >= _WORTH_LEAVING_OUT * largest and (not found or saved / count > found[0]):
            found = saved / count, Outsize(needs=tuple(ordered[:count]), without=without)
    return found[1] if found else None


def _best_by_count(needs: Sequence[Need], sizes_mm: Sequence[float]) -> Iterator[tuple[int, ...]]:
    """Yield the numbers of the best one size, two sizes and so on, the last size always in it.

    It ends when further sizes would buy nothing.
    """
    count = len(sizes_mm)
    costs = _step_costs(needs, sizes_mm)
    least = _Cost(0, 0.0)
    for j in range(count):
        least = least.plus(costs[j - 1, j])
    layer: list[_Best | None] = [(costs[-1, j], (j,)) for j in range(count)]
    for _ in range(count):
        best = layer[-1]
        if best is None:
            return
        yield best[1]
        if best[0].rounded() == least.rounded():
            return
        layer = [_with_one_more(layer, costs, j) for j in range(count)]


def _with_one_more(
    layer: Sequence[_Best | None], costs: Mapping[tuple[int, int], _Cost], j: int
) -> _Best | None:
    """Return the best set that has size j as its largest, and one size more than the layer's."""
    options = [
        (before[0].plus(costs[i, j]), (*before[1], j))
        for i, before in enumerate(layer[:j])
        if before is not None
    ]
    return min(options, default=None)


def _step_costs(needs: Sequence[Need], sizes_mm: Sequence[float]) -> dict[tuple[int, int], _Cost]:
    """Return what it costs to give size j to all that size i does not hold, for every i < j.

    -1 stands for no smaller size. The sums run over sizes, each with the needs that it is the
    first to hold, so that a thousand garments cost little more than ten.
    """
    count = len(sizes_mm)
    first = [next(n for n, size in enumerate(sizes_mm) if one.is_held_by(size)) for one in needs]
    cloth = np.array([need.cloth_mm for need in needs])
    number = _sums(first, None, count)
    length = _sums(first, [need.least_mm for need in needs], count)
    costs = {}
    for j, size in enumerate(sizes_mm):
        short = _sums(first, cloth < size, count)
        for i in range(-1, j):
            served = number[j + 1] - number[i + 1]
            spare = size * served - (length[j + 1] - length[i + 1])
            costs[i, j] = _Cost(round(short[j + 1] - short[i + 1]), float(spare))
    return costs


def _sums(first: Sequence[int], weights: ArrayLike | None, count: int) -> NDArray[np.float64]:
    """Return the sum over the needs of the first none, one, two sizes and so on."""
    return np.concatenate([[0.0], np.cumsum(np.bincount(first, weights, minlength=count))])


def _least_sure(entry: Entry, p_clear: float) -> float:
    """Return the least size (mm) that holds the motif with a probability, or a person's word."""
    if entry.said.size_mm is not None:
        return entry.said.size_mm
    sizing = entry.sizing
    box, shift, settings = sizing.motifs[0], (0.0, 0.0), sizing.settings
    if settings.place and sizing.window:
        window = sizing.window
        box, shift = placed_box(box, centre_mm=window.centre_mm, angle_deg=window.angle_deg)
    low, high = 0.0, _FARTHEST_MM
    while high - low > _SETTLED_MM / 2:
        middle = (low + high) / 2
        is_sure = judge_size(middle, box, settings, shift).p_clear >= p_clear
        low, high = (low, middle) if is_sure else (middle, high)
    return high


def _largest_without(codes: Set[str], sizing: Sizing, sizes_mm: Sequence[float]) -> float:
    """Find the largest size whose square none of these words on the cloth is said of; 0 if none.

    If it is not said of one size, it is not said of any smaller one.

    (A smaller square lies inside the larger one, moved by no more than its clearance allows.)
    """
    garment, window = sizing.garment, sizing.window
    if garment is None:
        return float("inf")
    outline = np.asarray(garment.outline_mm)
    placed_mm = window.centre_mm if window and sizing.settings.place else None
    low, high = 0, len(sizes_mm)
    while low < high:
        middle = (low + high) // 2
        settings = replace(sizing.settings, sizes_mm=(sizes_mm[middle],))
        fit = fit_square(
            sizing.motifs[0], outline, garment.upright_deg, settings, placed_mm=placed_mm
        )
        is_said = any(message.code in codes for message in fit.messages)
        low, high = (low, middle) if is_said else (middle + 1, high)
    return sizes_mm[low - 1] if low else 0.0

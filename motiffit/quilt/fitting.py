"""Which centres, strips and block go together, and what would where they do not."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import cycle

from motiffit.errors import UsageError
from motiffit.quilt.lengths import common_measure, format_cut, round_up_to
from motiffit.quilt.strips import Construction
from motiffit.units import MM_PER_INCH, Units

__all__ = [
    "Fit",
    "block_with_strips",
    "choose_strip",
    "count_half_rounds",
    "fit_block",
    "nearest_fits",
]

_MOST_HALF_ROUNDS = 60  # thirty strips on each side of a centre; no block has so many
_WIDEST_MM = 4 * MM_PER_INCH
_NARROWEST_MM = {"in": MM_PER_INCH / 2, "cm": Fraction(10)}
_USUAL_MM = {"in": MM_PER_INCH, "cm": Fraction(25)}
# a ruler shows eighths of an inch, or millimetres
_RULER_MM = {"in": MM_PER_INCH / 8, "cm": Fraction(1)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A block and a strip width that suit every centre."""

    block_mm: Fraction
    strips_mm: tuple[Fraction, ...]


def count_half_rounds(
    centre_mm: Fraction,
    block_mm: Fraction,
    strips_mm: Sequence[Fraction],
    construction: Construction = "log-cabin",
) -> int | None:
    """Return how many half rounds bring a centre to the block exactly; None where none do.

    Examples
    --------
    >>> count_half_rounds(Fraction(3), Fraction(9), [Fraction(1)])
    6
    """
    size, half_rounds = centre_mm, 0
    step = 1 if construction == "log-cabin" else 2
    for width in cycle(strips_mm):
        if size >= block_mm or half_rounds >= _MOST_HALF_ROUNDS:
            break
        size += step * width
        half_rounds += step
    return half_rounds if size == block_mm else None


def choose_strip(
    centres_mm: Sequence[Fraction], block_mm: Fraction, construction: Construction, units: Units
) -> Fraction | None:
    """Return the strip width nearest to the usual one that suits every centre, or None.

    The usual width is 1 in, or 2.5 cm. A width suits when it divides what each centre lacks.
    """
    candidates = _strips_that_divide(centres_mm, block_mm, construction, units)
    return min(candidates, key=lambda width: abs(width - _USUAL_MM[units]), default=None)


def fit_block(
    centres_mm: Sequence[Fraction],
    block_mm: Fraction,
    strips_mm: Sequence[Fraction],
    construction: Construction,
    units: Units,
) -> dict[Fraction, int]:
    """Return the half rounds that each centre size needs.

    Raises
    ------
    UsageError
        If a centre cannot be brought to the block; the text says which and what would do.
    """
    counts = {
        centre: count_half_rounds(centre, block_mm, strips_mm, construction)
        for centre in sorted(set(centres_mm))
    }
    failing = [centre for centre, count in counts.items() if count is None]
    if failing:
        wish = Fit(block_mm=block_mm, strips_mm=tuple(strips_mm))
        raise UsageError(_explain(failing, list(counts), wish, construction, units))
    return {centre: count for centre, count in counts.items() if count is not None}


def nearest_fits(
    centres_mm: Sequence[Fraction], wish: Fit, construction: Construction, units: Units
) -> list[Fit]:
    """Return what works for every centre, nearest to the wish first: at most four.

    Tried: other strip widths at the block wished, then the next smaller and larger block with the
    strips wished.
    """
    centres = sorted(set(centres_mm))
    widths = _strips_that_divide(centres, wish.block_mm, construction, units)
    wished = min(wish.strips_mm, default=_USUAL_MM[units])
    widths.sort(key=lambda width: abs(width - wished))
    found = [Fit(block_mm=wish.block_mm, strips_mm=(width,)) for width in widths[:2]]
    if wish.strips_mm:
        blocks = _blocks_that_suit(centres, wish.strips_mm, construction)
        below = [block for block in blocks if block < wish.block_mm][-1:]
        above = [block for block in blocks if block > wish.block_mm][:1]
        found += [Fit(block_mm=block, strips_mm=wish.strips_mm) for block in below + above]
    return found


def block_with_strips(
    centres_mm: Sequence[Fraction],
    strips_mm: Sequence[Fraction],
    construction: Construction,
    units: Units,
) -> Fraction | None:
    """Return the smallest block in which every centre gets a round of strips or more.

    None where the strips bring the centres to no such block together.

    Parameters
    ----------
    centres_mm
        Finished centres that the strips bring to one block.
    strips_mm
        Finished strip widths in turn; empty for the usual one.
    construction, units
        How strips are sewn on, and which strip is usual.

    Examples
    --------
    >>> block_with_strips([Fraction(3), Fraction(9)], [Fraction(1)], "log-cabin", "in")
    Fraction(11, 1)
    """
    strips = strips_mm or (_USUAL_MM[units],)
    suiting = _blocks_that_suit(sorted(set(centres_mm)), strips, construction)
    rounds = {
        block: [count_half_rounds(centre, block, strips, construction) for centre in centres_mm]
        for block in suiting
    }
    return next(
        (block for block, counts in rounds.items() if min(c or 0 for c in counts) >= 2), None
    )


def _strips_that_divide(
    centres_mm: Sequence[Fraction], block_mm: Fraction, construction: Construction, units: Units
) -> list[Fraction]:
    """Widths on the ruler's marks that divide what every centre lacks.

    Where there are none, those on the marks of the other ruler: the pile was sized in its units.
    """
    lacking = [block_mm - centre for centre in centres_mm if centre != block_mm]
    if not lacking or min(lacking) < 0:
        return []
    measure = common_measure(lacking) / (1 if construction == "log-cabin" else 2)
    fewest = max(1, int(round_up_to(measure / _WIDEST_MM, Fraction(1))))
    most = int(measure / _NARROWEST_MM[units])
    most = min(most, int(_MOST_HALF_ROUNDS * measure / max(lacking)))
    widths = [measure / parts for parts in range(fewest, most + 1)]
    rulers = sorted(_RULER_MM.values(), key=lambda mark: mark != _RULER_MM[units])
    on_marks = ([width for width in widths if (width / mark).denominator == 1] for mark in rulers)
    return next((found for found in on_marks if found), [])


def _blocks_that_suit(
    centres_mm: Sequence[Fraction], strips_mm: Sequence[Fraction], construction: Construction
) -> list[Fraction]:
    """Block sizes that the strips reach from every centre, ascending."""
    step = 1 if construction == "log-cabin" else 2
    reached: list[set[Fraction]] = []
    for centre in centres_mm:
        size, sizes = centre, {centre}
        for width, _ in zip(cycle(strips_mm), range(_MOST_HALF_ROUNDS // step), strict=False):
            size += step * width
            sizes.add(size)
        reached.append(sizes)
    return sorted(set.intersection(*reached))


def _explain(
    failing: Sequence[Fraction],
    centres_mm: Sequence[Fraction],
    wish: Fit,
    construction: Construction,
    units: Units,
) -> str:
    """Why a combination does not work, and the nearest that do."""
    block = format_cut(wish.block_mm, units)
    strips = ", ".join(format_cut(width, units) for width in wish.strips_mm)
    names = ", ".join(format_cut(centre, units) for centre in failing)
    reason = f"strips of {strips} do not bring a centre of {names} to a block of {block}"
    if not wish.strips_mm:
        reason = f"no strips on a ruler's marks bring all centres to a block of {block}"
    if max(failing) > wish.block_mm:
        largest = format_cut(max(centres_mm), units)
        reason = f"a block of {block} is smaller than its centre: it must be {largest} or more"
    fits = nearest_fits(centres_mm, wish, construction, units)
    if not fits:
        return f"{reason}; leave out a size, or choose another block"
    offers = "; ".join(
        f"a block of {format_cut(fit.block_mm, units)} with strips of "
        + ", ".join(format_cut(width, units) for width in fit.strips_mm)
        for fit in fits
    )
    return f"{reason}. Nearest that work: {offers}"

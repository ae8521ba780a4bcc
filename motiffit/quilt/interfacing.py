"""Interfacing behind the centres: knit stretches, and a light fusible cloth holds it."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from motiffit.errors import UsageError
from motiffit.quilt.centre import Centre
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.nesting import Nesting, nest_pieces
from motiffit.quilt.options import InterfacingWay, PlanOptions
from motiffit.quilt.yardage import Purchase, buy_length

__all__ = ["Interfacing", "plan_interfacing"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Interfacing:
    """Squares of interfacing.

    Attributes
    ----------
    way : {'oversize', 'to-size'}
        Cut larger and trimmed with the centre, or cut to its cut size.
    squares
        Side of the square, finished side of its centre, and how many.
    cloth_width_mm
        Usable width of the interfacing.
    nesting
        How they lie on it.
    purchase
        What to buy.
    """

    way: InterfacingWay
    squares: tuple[tuple[Fraction, Fraction, int], ...]
    cloth_width_mm: Fraction
    nesting: Nesting
    purchase: Purchase


def plan_interfacing(centres: Iterable[Centre], options: PlanOptions) -> Interfacing | None:
    """Back every centre, or none if none is wished.

    Raises
    ------
    UsageError
        If a square is wider than the interfacing.
    """
    if options.interfacing == "none":
        return None
    counts = Counter((_side(centre, options), centre.finished_mm) for centre in centres)
    squares = tuple((side, finished, count) for (side, finished), count in sorted(counts.items()))
    width = options.interfacing_width_mm
    largest = squares[-1][0]
    if largest > width:
        raise UsageError(
            f"interfacing {format_cut(width, options.units)} wide does not cover a square of "
            f"{format_cut(largest, options.units)}: take a wider one, or none"
        )
    demand = {(side, side): count for side, _, count in squares}
    nesting = nest_pieces(demand, width)
    purchase = buy_length(
        nesting.length_mm,
        straightening_mm=Fraction(0),
        shrinkage=Fraction(0),
        shop=options.shop,
    )
    return Interfacing(
        way=options.interfacing,
        squares=squares,
        cloth_width_mm=width,
        nesting=nesting,
        purchase=purchase,
    )


def _side(centre: Centre, options: PlanOptions) -> Fraction:
    """Side of the square behind a centre."""
    if options.interfacing == "to-size":
        return centre.cut_mm
    return max(centre.cut_mm, centre.finished_mm + options.interfacing_extra_mm)

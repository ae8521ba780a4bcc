"""Double-fold binding round the quilt, and other long strips joined end to end."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from motiffit.units import MM_PER_INCH

__all__ = ["Binding", "binding_cut_width", "count_joined_strips", "plan_binding"]

_TURN_OF_CLOTH_MM = MM_PER_INCH / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """Binding strips.

    Attributes
    ----------
    cut_width_mm
        Width of the strip before it is folded lengthwise.
    run_mm
        Length needed: once round the quilt, and the extra for corners and the last join.
    strips
        Strips across the cloth, joined with diagonal seams.
    """

    cut_width_mm: Fraction
    run_mm: Fraction
    strips: int


def binding_cut_width(finished_mm: Fraction) -> Fraction:
    """Return the cut width of double-fold binding: four times the finished width and 1/2 in.

    A guild's rule (fmquilters.org).

    Examples
    --------
    >>> binding_cut_width(MM_PER_INCH / 2) / MM_PER_INCH
    Fraction(5, 2)
    """
    return 4 * finished_mm + _TURN_OF_CLOTH_MM


def count_joined_strips(run_mm: Fraction, cloth_width_mm: Fraction, loss_mm: Fraction) -> int:
    """Return how many strips, joined end to end, give a run; each join loses ``loss_mm``.

    A diagonal join loses the strip's width.

    Raises
    ------
    ValueError
        If a join loses as much as a strip gives.

    Examples
    --------
    >>> count_joined_strips(Fraction(220), Fraction(40), Fraction(2))
    6
    """
    gain = cloth_width_mm - loss_mm
    if gain <= 0:
        raise ValueError("the cloth is no wider than what a join loses")
    return max(1, ceil((run_mm - loss_mm) / gain))


def plan_binding(
    quilt_mm: tuple[Fraction, Fraction],
    *,
    cut_width_mm: Fraction,
    extra_mm: Fraction,
    cloth_width_mm: Fraction,
) -> Binding:
    """Bind a quilt of a width and height."""
    run = 2 * (quilt_mm[0] + quilt_mm[1]) + extra_mm
    strips = count_joined_strips(run, cloth_width_mm, cut_width_mm)
    return Binding(cut_width_mm=cut_width_mm, run_mm=run, strips=strips)

"""Lengths of the plan: exact in, exact out, and words that do not hide a fraction."""

from collections.abc import Iterable
from fractions import Fraction
from math import ceil, gcd

from motiffit.units import MM_PER_INCH, Units, format_centimetres, format_inches

__all__ = ["common_measure", "exact_mm", "format_cut", "round_up_to"]

_FINEST_INCH = 64


def exact_mm(length_mm: float) -> Fraction:
    """Return the fraction of a millimetre that a record's float stands for.

    Records hold 101.6 as a float; 4 in is 508/5 mm. Denominators up to 1000 hold every 64th of an
    inch and every thousandth of a millimetre.

    Examples
    --------
    >>> exact_mm(101.6)
    Fraction(508, 5)
    """
    return Fraction(length_mm).limit_denominator(1000)


def common_measure(lengths: Iterable[Fraction]) -> Fraction:
    """Return the greatest length that goes into all of them a whole number of times.

    Examples
    --------
    >>> common_measure([Fraction(3, 2), Fraction(5)])
    Fraction(1, 2)
    """
    measure = Fraction(0)
    for length in lengths:
        scale = measure.denominator * length.denominator
        measure = Fraction(gcd(int(measure * scale), int(length * scale)), scale)
    return measure


def round_up_to(length_mm: Fraction, step_mm: Fraction) -> Fraction:
    """Return the smallest multiple of the step that is not below the length."""
    return ceil(length_mm / step_mm) * step_mm


def format_cut(length_mm: Fraction, units: Units) -> str:
    """Print a length to cut by: fractions of an inch exactly, or centimetres to 0.1 mm.

    ``about`` stands before a length that is not a whole number of 64ths of an inch.

    Examples
    --------
    >>> format_cut(Fraction(1143, 10), "in"), format_cut(Fraction(377, 10), "cm")
    ('4 1/2 in', '3.77 cm')
    """
    if units == "cm":
        return format_centimetres(length_mm, finest=10)
    words = format_inches(length_mm, finest=_FINEST_INCH)
    is_exact = (length_mm / MM_PER_INCH * _FINEST_INCH).denominator == 1
    return words if is_exact else f"about {words}"

"""Lengths of cloth to ask for in a shop: allowances on top, rounded up to what shops cut."""

from dataclasses import dataclass
from fractions import Fraction
from math import floor
from typing import Literal

from motiffit.quilt.lengths import format_cut
from motiffit.units import MM_PER_INCH

__all__ = ["SHOPS", "YARD_MM", "Purchase", "Shop", "buy_length", "format_yards", "shop_length"]

Shop = Literal["yard", "quarter-yard", "10cm", "25cm", "50cm"]

YARD_MM = 36 * MM_PER_INCH

_YARD_PARTS = tuple(sorted({Fraction(n, 8) for n in range(8)} | {Fraction(1, 3), Fraction(2, 3)}))
_QUARTERS = tuple(Fraction(n, 4) for n in range(4))

SHOPS: dict[Shop, tuple[Fraction, tuple[Fraction, ...]]] = {
    # the unit, and the parts of it that a shop cuts
    "yard": (YARD_MM, _YARD_PARTS),
    "quarter-yard": (YARD_MM, _QUARTERS),
    "10cm": (Fraction(1000), tuple(Fraction(n, 10) for n in range(10))),
    "25cm": (Fraction(1000), _QUARTERS),
    "50cm": (Fraction(1000), (Fraction(0), Fraction(1, 2))),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Purchase:
    """Cloth to buy.

    Attributes
    ----------
    net_mm
        Length of all that is cut.
    need_mm
        The same with straightening and shrinkage.
    buy_mm
        Rounded up to what the shop cuts.
    words
        ``buy_mm`` as asked for in the shop.
    """

    net_mm: Fraction
    need_mm: Fraction
    buy_mm: Fraction
    words: str


def shop_length(need_mm: Fraction, shop: Shop) -> Fraction:
    """Round a length up to what the shop cuts.

    Examples
    --------
    >>> shop_length(48 * MM_PER_INCH, "yard") / YARD_MM
    Fraction(4, 3)
    """
    unit_mm, parts = SHOPS[shop]
    units = need_mm / unit_mm
    whole = floor(units)
    rest = units - whole
    part = next((part for part in parts if part >= rest), Fraction(1))
    return (whole + part) * unit_mm


def buy_length(
    net_mm: Fraction, *, straightening_mm: Fraction, shrinkage: Fraction, shop: Shop
) -> Purchase:
    """Return what to buy for a length that is cut.

    Parameters
    ----------
    net_mm
        Length of all that is cut; nothing needed means nothing bought.
    straightening_mm
        Lost when the ends are squared.
    shrinkage
        Part of the length lost in the wash before cutting, 0.03 for three per cent.
    """
    spare = straightening_mm if net_mm else Fraction(0)
    need = (net_mm + spare) / (1 - shrinkage)
    buy = shop_length(need, shop)
    return Purchase(net_mm=net_mm, need_mm=need, buy_mm=buy, words=_ask_for(buy, shop))


def format_yards(length_mm: Fraction) -> str:
    """Print a length in yards as a mixed fraction.

    Examples
    --------
    >>> format_yards(Fraction(11, 8) * YARD_MM)
    '1 3/8 yd'
    """
    yards = length_mm / YARD_MM
    whole, rest = divmod(yards.numerator, yards.denominator)
    words = [str(whole)] if whole or not rest else []
    words += [f"{rest}/{yards.denominator}"] if rest else []
    return f"{' '.join(words)} yd"


def _ask_for(buy_mm: Fraction, shop: Shop) -> str:
    """How to say it in the shop."""
    if SHOPS[shop][0] == YARD_MM:
        return f"{format_yards(buy_mm)} ({format_cut(buy_mm, 'in')})"
    return f"{float(buy_mm) / 1000:g} m"

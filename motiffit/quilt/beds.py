"""Beds and the batting that is sold for them, in inches as the trade lists them.

Mattress and package sizes: a shop's resource chart (honeybegood.com, 2012), of which the
mattresses agree with two other lists; see docs/quilt.md. Packages of other makers differ.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from types import MappingProxyType

from motiffit.units import MM_PER_INCH

__all__ = ["BATTINGS", "MATTRESSES", "Batting", "choose_batting", "quilt_for_bed"]


def _inches(width: int, height: int) -> tuple[Fraction, Fraction]:
    """Width and height in mm."""
    return width * MM_PER_INCH, height * MM_PER_INCH


MATTRESSES: Mapping[str, tuple[Fraction, Fraction]] = MappingProxyType(
    {
        "crib": _inches(28, 52),
        "twin": _inches(39, 75),
        "twin-xl": _inches(39, 80),
        "full": _inches(54, 75),
        "queen": _inches(60, 80),
        "king": _inches(76, 80),
        "california-king": _inches(72, 84),
    }
)

BATTINGS: Mapping[str, tuple[Fraction, Fraction]] = MappingProxyType(
    {
        "crib": _inches(45, 60),
        "twin": _inches(72, 90),
        "full": _inches(81, 96),
        "queen": _inches(90, 108),
        "king": _inches(120, 120),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Batting:
    """Batting to buy: what it must cover, and the smallest package that does, if any."""

    width_mm: Fraction
    height_mm: Fraction
    package: str | None
    package_size_mm: tuple[Fraction, Fraction] | None


def quilt_for_bed(bed: str, drop_mm: Fraction) -> tuple[Fraction, Fraction]:
    """Return the quilt that covers a mattress and hangs down at both sides and the foot.

    Examples
    --------
    >>> [int(side / MM_PER_INCH) for side in quilt_for_bed("twin", 12 * MM_PER_INCH)]
    [63, 87]
    """
    width, length = MATTRESSES[bed]
    return width + 2 * drop_mm, length + drop_mm


def choose_batting(quilt_mm: tuple[Fraction, Fraction], overage_mm: Fraction) -> Batting:
    """Return the smallest package that covers the quilt and its overage, turned if need be."""
    width, height = (side + 2 * overage_mm for side in quilt_mm)
    narrow, long = sorted((width, height))
    fitting = {
        name: size for name, size in BATTINGS.items() if size[0] >= narrow and size[1] >= long
    }
    name = min(fitting, key=lambda name: fitting[name][0] * fitting[name][1], default=None)
    return Batting(
        width_mm=width,
        height_mm=height,
        package=name,
        package_size_mm=None if name is None else fitting[name],
    )

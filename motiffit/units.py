"""Lengths: parsing and printing. Everything else in the package speaks millimetres.

Lengths parse to exact fractions of a millimetre, so that seam arithmetic never rounds.
"""

import re
from fractions import Fraction
from math import floor
from typing import Literal

__all__ = [
    "DEFAULT_SIZES_MM",
    "METRIC_SIZES_MM",
    "MM_PER_INCH",
    "Units",
    "format_centimetres",
    "format_inches",
    "format_length",
    "format_side",
    "parse_length",
    "parse_sizes",
    "split_lengths",
]

Units = Literal["in", "cm"]

MM_PER_INCH = Fraction(254, 10)
"""Exact since the international yard and pound agreement of 1959."""

DEFAULT_SIZES_MM: tuple[Fraction, ...] = tuple(n * MM_PER_INCH for n in range(3, 10))
"""Whole inches from 3 to 9."""

METRIC_SIZES_MM: tuple[Fraction, ...] = tuple(Fraction(25 * n) for n in range(3, 10))
"""The same in steps of 2.5 cm, for those who sew in centimetres: 7.5 to 22.5 cm."""

_UNIT_MM: dict[str, Fraction] = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    "inches": MM_PER_INCH,
    '"': MM_PER_INCH,
    "\u2033": MM_PER_INCH,
    "\u201d": MM_PER_INCH,  # phones turn a typed inch sign into a closing quote
}
_VULGAR = {"\u00bd": "1/2", "\u00bc": "1/4", "\u00be": "3/4", "\u215b": "1/8", "\u215c": "3/8",
           "\u215d": "5/8", "\u215e": "7/8"}  # fmt: skip
_LENGTH = re.compile(
    r"""(?:(?P<whole>\d+(?:[.,]\d+)?)(?:[\s-]+(?P<num>\d+)/(?P<den>\d+))?
          |(?P<num_only>\d+)/(?P<den_only>\d+))
        \s*(?P<unit>mm|cm|inches|inch|in|"|\u2033|\u201d)?""",
    re.VERBOSE | re.IGNORECASE,
)
_UNIT_AT_END = re.compile(r'\s*[a-zA-Z"\u2033\u201d]+$')


def parse_length(text: str, default_unit: Units | Literal["mm"]) -> Fraction:
    """Read a length such as ``4 1/2 in``, ``11.5 cm``, ``100mm`` or ``3/4``.

    Parameters
    ----------
    text
        A number, mixed fraction or decimal, with or without a unit (mm, cm, in or ``"``).
    default_unit : {'in', 'cm', 'mm'}
        Taken when the text has no unit.

    Returns
    -------
    Fraction
        Millimetres, exact, greater than or equal to zero.

    Raises
    ------
    ValueError
        If the text is not such a length.

    Examples
    --------
    >>> float(parse_length("4 1/2 in", "cm"))
    114.3
    >>> float(parse_length("11,5", "cm"))
    115.0
    """
    plain = text.strip()
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, f" {fraction}")
    match = _LENGTH.fullmatch(plain.strip())
    if match is None:
        raise ValueError(
            f"'{text}' is not a length: write for instance '4 1/2 in', '11.5 cm' or '100 mm'"
        )
    part = match.groupdict()
    whole = part["whole"] or "0"
    if re.search(r",\d{3}$", whole):
        raise ValueError(
            f"the comma in '{text}' may be thousands or decimals: "
            f"write {whole.replace(',', '')} or {whole.replace(',', '.')}"
        )
    denominators = [int(part[key]) for key in ("den", "den_only") if part[key]]
    if 0 in denominators:
        raise ValueError(f"'{text}' is not a length: it divides by zero")
    number = Fraction(whole.replace(",", "."))
    number += Fraction(int(part["num"] or 0), int(part["den"] or 1))
    number += Fraction(int(part["num_only"] or 0), int(part["den_only"] or 1))
    unit = (part["unit"] or default_unit).lower()
    return number * _UNIT_MM[unit]


def split_lengths(text: str) -> tuple[str, ...]:
    """Take several lengths in words apart, each with its unit, for `parse_length`.

    They are separated by commas, or by semicolons where decimals have commas. A unit on the last
    one holds for those before it that have none.

    Examples
    --------
    >>> split_lengths("1, 1 1/2 in"), split_lengths("2,5; 3"), split_lengths("")
    (('1 in', '1 1/2 in'), ('2,5', '3'), ())
    """
    separator = ";" if ";" in text else ","
    parts = [part.strip() for part in text.split(separator) if part.strip()]
    unit = _UNIT_AT_END.search(parts[-1]) if parts else None
    return tuple(
        part if _UNIT_AT_END.search(part) or not unit else part + unit.group() for part in parts
    )


def parse_sizes(text: str, default_unit: Units | Literal["mm"]) -> tuple[Fraction, ...]:
    """Read a size set such as ``3, 4, 5 1/2 in``.

    They are separated as `split_lengths` takes them apart.

    Raises
    ------
    ValueError
        If a size cannot be read or is zero, or none is given.

    Examples
    --------
    >>> [float(size) for size in parse_sizes("3, 4 1/2 in", "cm")]
    [76.2, 114.3]
    """
    sizes = sorted({parse_length(part, default_unit) for part in split_lengths(text)})
    if not sizes:
        raise ValueError("no size given: write for instance '3, 4, 5 in'")
    if sizes[0] == 0:
        raise ValueError("a size of zero holds nothing")
    return tuple(sizes)


def format_inches(length_mm: Fraction | float, *, finest: int = 16) -> str:
    """Print a length as a mixed fraction of an inch, rounded to 1/finest.

    Examples
    --------
    >>> format_inches(114.3)
    '4 1/2 in'
    >>> format_inches(6.35)
    '1/4 in'
    """
    steps = floor(Fraction(length_mm) / MM_PER_INCH * finest + Fraction(1, 2))
    sign, steps = ("-", -steps) if steps < 0 else ("", steps)
    whole, rest = divmod(steps, finest)
    fraction = Fraction(rest, finest)
    words = [str(whole)] if whole or not rest else []
    words += [f"{fraction.numerator}/{fraction.denominator}"] if rest else []
    return f"{sign}{' '.join(words)} in"


def format_centimetres(length_mm: Fraction | float, *, finest: int = 1) -> str:
    """Print a length in centimetres, rounded to 1/finest of a millimetre.

    Examples
    --------
    >>> format_centimetres(112.7), format_centimetres(112.7, finest=10)
    ('11.3 cm', '11.27 cm')
    """
    steps = floor(Fraction(length_mm) * finest + Fraction(1, 2))
    return f"{steps / (10 * finest):g} cm"


def format_length(length_mm: Fraction | float, units: Units, *, finest: int = 16) -> str:
    """Print a length for a person: a fraction of an inch, or centimetres to the millimetre.

    Examples
    --------
    >>> format_length(101.6, "in"), format_length(101.6, "cm"), format_length(100, "cm")
    ('4 in', '10.2 cm', '10 cm')
    """
    if units == "in":
        return format_inches(length_mm, finest=finest)
    return format_centimetres(length_mm)


def format_side(side_mm: Fraction | float, units: Units) -> str:
    """Print the side of a card or note in the units in which it is a whole mark of a ruler.

    Examples
    --------
    >>> format_side(101.6, "cm"), format_side(100, "in"), format_side(127, "in")
    ('4 in', '100 mm', '5 in')
    """
    exact = Fraction(side_mm).limit_denominator(10_000)
    in_inches = (exact / MM_PER_INCH * 16).denominator == 1
    in_mm = exact.denominator == 1
    if in_mm and (units == "cm" or not in_inches):
        return f"{exact} mm"
    return format_length(side_mm, "in" if in_inches else units)

"""Size sets worth comparing, and the sizes from which the best set is put together."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, gcd, isclose

from motiffit.units import MM_PER_INCH, Units, format_length, parse_sizes

__all__ = ["STEP_MM", "SizeSet", "known_sets", "sizes_in_words", "sizes_up_to"]

STEP_MM: dict[Units, Fraction] = {"in": MM_PER_INCH / 2, "cm": Fraction(10)}
"""The best set is put together from multiples of this unless said otherwise."""

_SMALLEST: dict[Units, Fraction] = {"in": 2 * MM_PER_INCH, "cm": Fraction(50)}
"""Below, a centre shows too little to be worth its seams."""

_FAMILIES_IN = ((3, 6, 9), (4, 8, 12))
_FAMILIES_CM = ((8, 16, 24), (10, 15, 20))


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeSet:
    """A set of finished sizes with its name, in the units in which it is thought."""

    name: str
    sizes_mm: tuple[float, ...]
    units: Units

    @property
    def words(self) -> str:
        """The sizes in words that are read back exactly, such as ``3, 6, 9 in``.

        Sizes that lie between the marks of a ruler in these units are given in millimetres.
        """
        numbers = [
            format_length(size, self.units).removesuffix(f" {self.units}") for size in self.sizes_mm
        ]
        words = f"{', '.join(numbers)} {self.units}"
        read = [float(size) for size in parse_sizes(words, self.units)]
        is_exact = len(read) == len(numbers) and all(
            isclose(one, other, abs_tol=1e-6)
            for one, other in zip(read, self.sizes_mm, strict=True)
        )
        return words if is_exact else f"{', '.join(f'{size:g}' for size in self.sizes_mm)} mm"


def sizes_in_words(sizes_mm: Sequence[float], units: Units) -> str:
    """Return sizes as the command line takes them, such as ``3, 6, 9 in``."""
    return SizeSet(name="", sizes_mm=tuple(sizes_mm), units=units).words


def known_sets() -> tuple[SizeSet, ...]:
    """Return the usual sets: whole inches, modular families (each size a multiple), metric ones."""
    inches = [("whole inches", tuple(range(3, 10)))]
    inches += [(f"family of {gcd(*family)} in", family) for family in _FAMILIES_IN]
    centimetres = [("metric", tuple(range(8, 25, 2)))]
    centimetres += [(f"family of {gcd(*family)} cm", family) for family in _FAMILIES_CM]
    return (
        *(_make_set(name, sizes, "in", MM_PER_INCH) for name, sizes in inches),
        *(_make_set(name, sizes, "cm", Fraction(10)) for name, sizes in centimetres),
    )


def sizes_up_to(largest_mm: float, *, step_mm: Fraction, units: Units) -> tuple[float, ...]:
    """Return every multiple of a step, from a smallest worth sewing up to one that holds a length.

    Examples
    --------
    >>> [round(size / 25.4, 1) for size in sizes_up_to(100, step_mm=MM_PER_INCH / 2, units="in")]
    [2.0, 2.5, 3.0, 3.5, 4.0]
    """
    first = ceil(_SMALLEST[units] / step_mm)
    last = max(ceil(Fraction(largest_mm) / step_mm), first)
    return tuple(float(step_mm * number) for number in range(first, last + 1))


def _make_set(name: str, sizes: Sequence[int], units: Units, unit_mm: Fraction) -> SizeSet:
    """Return a set of whole inches or centimetres."""
    return SizeSet(name=name, sizes_mm=tuple(float(n * unit_mm) for n in sizes), units=units)

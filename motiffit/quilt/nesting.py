"""Pieces of several sizes laid in rows on a narrow cloth: interfacing, extension pieces.

A row is as deep as its deepest piece. Rows are cut across the cloth first, pieces from the rows
after: the way a ruler and cutter work.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, lcm

from motiffit.quilt.lengths import common_measure
from motiffit.quilt.stock import Pattern, Plan, first_fit, full_patterns, solve_patterns

__all__ = ["Nesting", "Row", "nest_pieces"]

_SOLVER_SLACK = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """Rows alike: how deep, which pieces (across, down, how many), and how many such rows."""

    depth_mm: Fraction
    pieces: tuple[tuple[Fraction, Fraction, int], ...]
    rows: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Nesting:
    """All rows, the length of cloth they take, and a length that no rows can do with less than."""

    rows: tuple[Row, ...]
    length_mm: Fraction
    at_least_mm: Fraction

    @property
    def is_proven(self) -> bool:
        """Whether no other rows take less cloth."""
        return self.length_mm == self.at_least_mm


def nest_pieces(
    demand: Mapping[tuple[Fraction, Fraction], int],
    cloth_width_mm: Fraction,
) -> Nesting:
    """Lay pieces in rows that take as little cloth as possible.

    Parameters
    ----------
    demand
        Number of pieces of each size, (across, down) in mm.
    cloth_width_mm
        Usable width of the cloth.

    Raises
    ------
    ValueError
        If a piece is wider than the cloth.
    """
    kinds = sorted((kind for kind, count in demand.items() if count > 0), key=_deepest_first)
    if not kinds:
        return Nesting(rows=(), length_mm=Fraction(0), at_least_mm=Fraction(0))
    if max(across for across, _ in kinds) > cloth_width_mm:
        raise ValueError("a piece is wider than the cloth")
    counts = [demand[kind] for kind in kinds]
    plan, bound = _lay(kinds, counts, cloth_width_mm)
    rows = tuple(_make_row(kinds, pattern, times) for pattern, times in plan)
    length = sum((row.depth_mm * row.rows for row in rows), Fraction(0))
    area = sum((kind[0] * kind[1] * n for kind, n in zip(kinds, counts, strict=True)), Fraction(0))
    step = common_measure(down for _, down in kinds)
    at_least = max(bound, area / cloth_width_mm)
    return Nesting(rows=rows, length_mm=length, at_least_mm=ceil(at_least / step) * step)


def _deepest_first(kind: tuple[Fraction, Fraction]) -> tuple[Fraction, Fraction]:
    """Sort key."""
    return (-kind[1], -kind[0])


def _lay(
    kinds: list[tuple[Fraction, Fraction]],
    counts: list[int],
    cloth_width_mm: Fraction,
) -> tuple[Plan, Fraction]:
    """Choose the rows, and a bound on their length."""
    scale = lcm(*(across.denominator for across, _ in kinds))
    sizes = [int(across * scale) for across, _ in kinds]
    room = int(cloth_width_mm * scale)
    simple = first_fit(sizes, counts, room)
    patterns: list[Pattern] = []
    for first in range(len(kinds)):
        rows = full_patterns(sizes[first:], counts[first:], room)
        if not rows:
            return simple, Fraction(0)
        patterns += [(0,) * first + row for row in rows if row[0]]
    depths = [float(_depth(kinds, pattern)) for pattern in patterns]
    plan, bound = solve_patterns(patterns, depths, counts)
    return plan or simple, Fraction(max(0.0, bound * (1 - _SOLVER_SLACK)))


def _depth(kinds: list[tuple[Fraction, Fraction]], pattern: Pattern) -> Fraction:
    """Depth of the deepest piece of a row."""
    return max(down for (_, down), count in zip(kinds, pattern, strict=True) if count)


def _make_row(kinds: list[tuple[Fraction, Fraction]], pattern: Pattern, times: int) -> Row:
    """Name the pieces of a row."""
    pieces = tuple(
        (across, down, count) for (across, down), count in zip(kinds, pattern, strict=True) if count
    )
    return Row(depth_mm=_depth(kinds, pattern), pieces=pieces, rows=times)

"""The quilt's back: lengths of cloth joined until they cover it, seams counted."""

from dataclasses import dataclass
from fractions import Fraction
from math import ceil
from typing import Literal

from motiffit.quilt.strips import join_widths

__all__ = ["Backing", "count_widths", "plan_backing"]

Run = Literal["down", "across"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Backing:
    """How the back is pieced.

    Attributes
    ----------
    width_mm, height_mm
        What the back must cover: the quilt and its overage.
    run : {'down', 'across'}
        Whether the lengths of cloth run down the quilt or across it.
    panels
        How many lengths are joined.
    panel_mm
        Length of each.
    covers_mm
        What the joined lengths give across them, after the join seams.
    can_split
        Whether the last of two lengths can be split and sewn to both sides, which keeps the seam
        out of the quilt's middle. None where there is no seam in the middle.
    """

    width_mm: Fraction
    height_mm: Fraction
    run: Run
    panels: int
    panel_mm: Fraction
    covers_mm: Fraction
    can_split: bool | None

    @property
    def length_mm(self) -> Fraction:
        """Length of cloth in all."""
        return self.panels * self.panel_mm


def count_widths(cover_mm: Fraction, cloth_width_mm: Fraction, join_mm: Fraction) -> int:
    """Return how many widths of cloth, joined, cover a length: each join takes 2 join_mm.

    Two widths of 40 in do not cover 80 in; with half-inch joins it takes three.

    Raises
    ------
    ValueError
        If the joins take as much as the cloth gives.

    Examples
    --------
    >>> count_widths(Fraction(80), Fraction(40), Fraction(1, 2))
    3
    """
    gain = cloth_width_mm - 2 * join_mm
    if gain <= 0:
        raise ValueError("the cloth is no wider than its join seams")
    return max(1, ceil((cover_mm - 2 * join_mm) / gain))


def plan_backing(
    quilt_mm: tuple[Fraction, Fraction],
    *,
    overage_mm: Fraction,
    cloth_width_mm: Fraction,
    join_mm: Fraction,
) -> Backing:
    """Piece the back from the least cloth; of two ways alike, the one with fewer joins.

    Parameters
    ----------
    quilt_mm
        Width and height of the quilt top.
    overage_mm
        How far the back reaches beyond the top on each side.
    cloth_width_mm
        Usable width of the backing cloth.
    join_mm
        Seam allowance of a join, from each of the two lengths.
    """
    width, height = (side + 2 * overage_mm for side in quilt_mm)
    ways = [_piece(width, height, run, cloth_width_mm, join_mm) for run in ("down", "across")]
    return min(ways, key=lambda way: (way.length_mm, way.panels))


def _piece(
    width: Fraction, height: Fraction, run: Run, cloth_width_mm: Fraction, join_mm: Fraction
) -> Backing:
    """Join lengths in one direction."""
    cover, panel = (width, height) if run == "down" else (height, width)
    panels = count_widths(cover, cloth_width_mm, join_mm)
    half = cloth_width_mm / 2
    split = join_widths([half, cloth_width_mm, half], join_mm)
    return Backing(
        width_mm=width,
        height_mm=height,
        run=run,
        panels=panels,
        panel_mm=panel,
        covers_mm=join_widths([cloth_width_mm] * panels, join_mm),
        can_split=split >= cover if panels == 2 else None,
    )

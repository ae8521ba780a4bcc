"""The coded card: which marker id stands for which printed side.

Ids 10..299 are that many millimetres; ids 300 + n are n sixteenths of an inch. The card is one
marker of the AprilTag 36h11 family, which holds 587 codes (Olson, ICRA 2011; the count was read
from OpenCV's dictionary). The side is that of the outer edge of the black border.
"""

from fractions import Fraction

from motiffit.units import MM_PER_INCH

__all__ = ["MODULES_PER_SIDE", "PAPER_TO_SIDE", "marker_id_for", "side_mm_of"]

MODULES_PER_SIDE = 8
"""Modules along the black border of a 36h11 marker: 6 of data and 1 of border at each end."""

PAPER_TO_SIDE = (MODULES_PER_SIDE + 2) / MODULES_PER_SIDE
"""Side of a card with its white margin of one module, against its black square's."""

_FIRST_MM, _LAST_MM = 10, 299
_INCH_BASE, _LAST_ID = 300, 586
_STEPS_PER_INCH = 16


def side_mm_of(marker_id: int) -> Fraction | None:
    """Return the printed side of the marker in mm, or None for an id that stands for no side.

    Examples
    --------
    >>> float(side_mm_of(100)), float(side_mm_of(364))
    (100.0, 101.6)
    """
    if _FIRST_MM <= marker_id <= _LAST_MM:
        return Fraction(marker_id)
    if _INCH_BASE < marker_id <= _LAST_ID:
        return Fraction(marker_id - _INCH_BASE, _STEPS_PER_INCH) * MM_PER_INCH
    return None


def marker_id_for(side_mm: Fraction) -> int:
    """Return the id of the marker to print for a side.

    Raises
    ------
    ValueError
        If the side is neither whole millimetres (10..299) nor whole sixteenths of an inch.

    Examples
    --------
    >>> marker_id_for(Fraction(100)), marker_id_for(4 * MM_PER_INCH)
    (100, 364)
    """
    if side_mm.denominator == 1 and _FIRST_MM <= side_mm <= _LAST_MM:
        return int(side_mm)
    steps = side_mm / MM_PER_INCH * _STEPS_PER_INCH
    if steps.denominator == 1 and 0 < steps <= _LAST_ID - _INCH_BASE:
        return _INCH_BASE + int(steps)
    raise ValueError(f"no marker id stands for a side of {float(side_mm)} mm")

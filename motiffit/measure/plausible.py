"""Whether the side that was taken for the reference square can be true.

A marker of another maker may carry a code that stands for some side here, and a person may give a
side in the wrong unit. Nothing is guessed from that: a person is asked to measure.
"""

from fractions import Fraction

from motiffit.record import Message, Reference, make_message
from motiffit.settings import Settings
from motiffit.units import MM_PER_INCH, format_length, format_side

__all__ = ["doubt_code", "doubt_extent", "is_usual_side", "tell_side"]

_PRINTED_MM = (25, 150)
"""Sides that `motiffit.show.sheets.card_pdf` prints on Letter or A4 paper."""

_ROUND_MM = (Fraction(5), MM_PER_INCH / 4)
"""Cards are printed in whole multiples of one of these; other sides can be had, but nobody does."""

_SAME_SIDE = 0.03
"""Share by which a person's side may differ from the code's: printers shrink a page so much."""

_LEAST_MM = 150.0
"""A newborn's cap is about 178 mm wide as it lies and a newborn's back 203 mm long from neck to
hip (table of infant sizes, clothingforbaby.com), a cap for a premature child smaller by a sixth."""

_MOST_MM = 1100.0
"""A dress of size 12 is 39 in (990 mm) long, the longest of a table of children's garments from 6
months up (pinkprincess.com); a man's shirt of size 5XL 910 mm (shirtsofcotton.com)."""


def is_usual_side(side_mm: float | Fraction) -> bool:
    """Tell whether cards are printed with a side.

    Examples
    --------
    >>> is_usual_side(100), is_usual_side(101.6), is_usual_side(97)
    (True, True, False)
    """
    exact = Fraction(side_mm).limit_denominator(10_000)
    is_printed = _PRINTED_MM[0] <= exact <= _PRINTED_MM[1]
    return is_printed and any((exact / step).denominator == 1 for step in _ROUND_MM)


def doubt_code(side_mm: float, settings: Settings) -> tuple[Message, ...]:
    """Doubt a side that the card's code gives and that cards do not have."""
    if is_usual_side(side_mm):
        return ()
    return (make_message("reference-unusual", side=format_side(side_mm, settings.units)),)


def tell_side(code_mm: float | None, settings: Settings) -> tuple[Message, ...]:
    """Say that a person's side overrides one in the card's code that cards do have."""
    said = settings.side_mm
    if said is None or code_mm is None or not is_usual_side(code_mm):
        return ()
    if abs(said / code_mm - 1) < _SAME_SIDE:
        return ()
    printed, side = (format_side(mm, settings.units) for mm in (code_mm, said))
    return (make_message("reference-side-said", printed=printed, side=side),)


def doubt_extent(
    reference: Reference, length_mm: float, settings: Settings, *, is_whole: bool
) -> tuple[Message, ...]:
    """Doubt a side by which the garment would be larger or smaller than clothes are.

    Parameters
    ----------
    reference
        The reference square.
    length_mm
        The longer side of the upright box round the garment, its outline one to be trusted.
    settings
        For the units of the words.
    is_whole
        Whether the photo shows all of the garment; what is cut off may well be small.
    """
    is_small = is_whole and length_mm < _LEAST_MM
    if not is_small and length_mm <= _MOST_MM:
        return ()
    message = make_message(
        "reference-doubtful",
        kind=reference.kind,
        side=format_side(reference.side_mm, settings.units),
        length=format_length(length_mm, settings.units, finest=1),
        how="small" if is_small else "large",
    )
    return (message,)

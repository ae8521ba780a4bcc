"""The phrases in which a record is put to a person, on the screen and in pictures.

Lengths are rounded so that a phrase never promises more than was measured: what must suffice is
rounded down, what may be missing is rounded up.
"""

import re
import textwrap
from math import ceil, cos, floor, radians, sin
from typing import Literal

from motiffit.record import Motif, Outcome, Sides, Size, Sizing, Window
from motiffit.units import MM_PER_INCH, Units, format_length, format_side

__all__ = [
    "COUNT_WORDS",
    "NO_BREAK",
    "Counted",
    "clearance_words",
    "edges_words",
    "format_down",
    "format_up",
    "middle_words",
    "motif_words",
    "outcome_words",
    "percent_words",
    "reference_words",
    "size_words",
    "too_small_words",
    "unbroken",
    "window_words",
    "wrap_words",
]

_OUTCOME_WORDS: dict[Outcome, str] = {
    "sized": "Sized",
    "check": "Check before you cut",
    "no-motif": "No motif",
    "refused": "Not measured",
}

Counted = Literal["sized", "accepted", "check", "cuts", "no-motif", "refused"]
"""What a photo is counted as; every photo is counted as one."""

COUNT_WORDS: dict[Counted, str] = {
    "sized": "sized",
    "accepted": "accepted",
    "check": "to check",
    "cuts": "not to be cut",
    "no-motif": "without a motif",
    "refused": "not measured",
}
"""In the order in which they are told."""

_STEP_MM: dict[Units, float] = {"in": float(MM_PER_INCH / 16), "cm": 1.0}

_SLACK = 0.02
"""Share of a step below the next mark that still counts as that mark; hides rounding, no more."""

_TENTHS_AT = 97
_Z_95 = 1.96
"""Half-width of a 95 % interval in standard deviations."""

_INSIDE_LENGTH = re.compile(r"(?<=\d) (?=\d+/\d|in\b|cm\b|mm\b|m\b|yd\b|%)")

NO_BREAK = "\u00a0"
"""A space at which no line ends."""

_PLENTY_MM = 9.5
"""Three times the clearance usually asked for: where it is not enough, the box is to blame."""

_SAME_PLACE_MM = 0.8
"""Half a sixteenth of an inch: no ruler shows a smaller move."""


def format_down(length_mm: float, units: Units) -> str:
    """Print a length rounded down to a sixteenth of an inch or a millimetre.

    Examples
    --------
    >>> format_down(12.6, "in"), format_down(12.7, "in"), format_down(12.69, "cm")
    ('7/16 in', '1/2 in', '1.2 cm')
    """
    step = _STEP_MM[units]
    return format_length(floor(length_mm / step + _SLACK) * step, units)


def format_up(length_mm: float, units: Units) -> str:
    """Print a length rounded up to a sixteenth of an inch or a millimetre.

    Examples
    --------
    >>> format_up(0.2, "in"), format_up(3.175, "in"), format_up(12.1, "cm")
    ('1/16 in', '1/8 in', '1.3 cm')
    """
    step = _STEP_MM[units]
    return format_length(ceil(length_mm / step - _SLACK) * step, units)


def outcome_words(sizing: Sizing) -> str:
    """Name the outcome in a few words."""
    return "Do not cut" if sizing.is_too_small else _OUTCOME_WORDS[sizing.outcome]


def too_small_words(sizing: Sizing) -> str:
    """Say what is wrong with a square that is too small for its motif."""
    window = sizing.window
    if window is None or not sizing.is_too_small:
        return ""
    if window.is_cutting:
        return "would cut into the motif"
    return f"keeps clear of the motif with a chance of {percent_words(window.p_clear or 0.0)}"


def window_words(window: Window) -> str:
    """Name the square: finished size first.

    Examples
    --------
    ``finished 4 in, cut 4 1/2 in``
    """
    return f"finished {window.finished}, cut {window.cut}"


def motif_words(motif: Motif, units: Units, *, brief: bool = False) -> str:
    """Say how large a motif is."""
    width, height = (format_length(side, units) for side in (motif.width_mm, motif.height_mm))
    if brief:
        return f"{width.removesuffix(' ' + units)} x {height}"
    return f"{width} wide, {height} high"


def edges_words(motif: Motif, units: Units) -> str:
    """Say how far an edge of the motif may lie from where it was found (95 %)."""
    sd = motif.sd_edges_mm
    widest = max(sd.top, sd.right, sd.bottom, sd.left)
    return f"each edge within {format_up(_Z_95 * widest, units)}, 95 times in 100"


def reference_words(sizing: Sizing) -> tuple[str, str]:
    """Say by what a photo was measured, and how its side is known: a label, and the words for it.

    Examples
    --------
    ``("Card", "4 in, read from its code")``, ``("Square", "3 in, as you said")``
    """
    if sizing.reference is None:
        return "", ""
    label = {"card": "Card", "square": "Square"}[sizing.reference.kind]
    side = format_side(sizing.reference.side_mm, sizing.settings.units)
    how = "read from its code" if sizing.settings.side_mm is None else "as you said"
    return label, f"{side}, {how}"


def clearance_words(clearance: Sides, units: Units) -> str:
    """Say for each side how far the motif keeps from the seam line."""
    return ", ".join(
        f"{name} {_clearance_of_side(getattr(clearance, name), units)}"
        for name in ("top", "right", "bottom", "left")
    )


def percent_words(probability: float) -> str:
    """Print a probability in whole per cent, never rounded up.

    Near the 97.5 % that a size needs, tenths tell on which side it lies.

    Examples
    --------
    >>> percent_words(0.9999), percent_words(0.9788), percent_words(0.96), percent_words(0.004)
    ('over 99 %', '97.8 %', '96 %', 'under 1 %')
    """
    percent = floor(100 * probability)
    if percent >= 99:
        return "over 99 %"
    if percent == _TENTHS_AT:
        return f"{floor(1000 * probability) / 10:.1f} %"
    return f"{percent} %" if percent else "under 1 %"


def size_words(size: Size, units: Units) -> str:
    """Say whether a finished size holds the motif."""
    if size.least_clearance_mm < 0:
        return f"would cut {format_up(-size.least_clearance_mm, units)} off the motif"
    clear = format_down(size.least_clearance_mm, units)
    if size.clears:
        return f"clears the motif by {clear}"
    sure = percent_words(size.p_clear)
    if size.least_clearance_mm >= _PLENTY_MM:
        return f"would clear the box by {clear}, but the box is not sure enough ({sure})"
    return f"too tight to be sure ({sure}): {clear} from motif to seam line"


def middle_words(window: Window, motif: Motif, units: Units) -> str:
    """Say where the middle of the square lies against the motif's middle."""
    east = window.centre_mm[0] - motif.centre_mm[0]
    south = window.centre_mm[1] - motif.centre_mm[1]
    turn = radians(window.angle_deg)
    right = east * cos(turn) + south * sin(turn)
    down = south * cos(turn) - east * sin(turn)
    moves = [
        f"{format_length(abs(length), units)} {name}"
        for length, name in (
            (right, "right of" if right > 0 else "left of"),
            (down, "below" if down > 0 else "above"),
        )
        if abs(length) >= _SAME_PLACE_MM
    ]
    return f"{' and '.join(moves) or 'on'} the motif's middle"


def unbroken(words: str) -> str:
    """Return words whose lengths, such as 4 1/2 in, no line can break."""
    return _INSIDE_LENGTH.sub(NO_BREAK, words)


def wrap_words(words: str, width: int, *, first: str = "", rest: str = "") -> list[str]:
    """Wrap words to lines, but never inside a length such as 4 1/2 in.

    Parameters
    ----------
    words
        What is to be wrapped.
    width
        Columns.
    first, rest
        Indents of the first line and of those that follow.
    """
    lines = textwrap.wrap(
        unbroken(words),
        width,
        initial_indent=first,
        subsequent_indent=rest,
        break_on_hyphens=False,  # names and options are copied from the screen
    )
    return [line.replace(NO_BREAK, " ") for line in lines]


def _clearance_of_side(length_mm: float, units: Units) -> str:
    """Say one side's clearance, or how much of the motif is lost there."""
    if length_mm < 0:
        return f"cuts off {format_up(-length_mm, units)}"
    return format_down(length_mm, units)

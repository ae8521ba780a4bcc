"""What this page says where it offers more than the commands, or a page that only shows."""

from collections.abc import Iterable

from motiffit.messages import MESSAGES
from motiffit.record import Message, Sizing
from motiffit.show.words import format_down, format_up
from motiffit.units import Units

__all__ = ["least_words", "outcome_of", "page_text", "waits_for_side"]

_LARGER = "Choose a smaller part of the motif, or use a set with larger sizes (on the pile's page)."
_SIDE = "Measure it and say here how large it is (Card or square)."

_CURES: dict[str, str] = {
    "no-reference": "Lay the printed card flat beside the garment, all of it in frame and well "
    "lit, and take the photo again. If a plain square lies there, such as a sticky note, say how "
    "large it is.",
    "reference-unknown-side": "Measure its black square and say how large it is.",
    "reference-unusual": _SIDE,
    "reference-doubtful": _SIDE,
    "motif-too-large": _LARGER,
    "motif-maybe-too-large": _LARGER,
    "no-cloth-for-any": "Use a set with smaller sizes (on the pile's page).",
}
"""Cures by message code, in place of those of a page on which nothing can be done."""

_WAITS = {"no-reference", "reference-unknown-side"}


def page_text(message: Message) -> str:
    """Return a message with the cure that this page offers.

    Examples
    --------
    >>> from motiffit.record import make_message
    >>> page_text(make_message("no-cloth-for-any")).partition(". ")[2]
    "Use a set with smaller sizes (on the pile's page)."
    """
    cure = _CURES.get(message.code)
    if cure is None:
        return message.page_text
    return message.page_text.removesuffix(MESSAGES[message.code].page_cure or "") + cure


def least_words(length_mm: float, units: Units) -> str:
    """Say how near the motif comes to the seam line.

    Examples
    --------
    >>> least_words(12.7, "in"), least_words(-3.0, "cm")
    ('1/2 in clear', 'cuts off 0.3 cm')
    """
    if length_mm < 0:
        return f"cuts off {format_up(-length_mm, units)}"
    return f"{format_down(length_mm, units)} clear"


def outcome_of(sizing: Sizing) -> str:
    """Name the outcome as the page marks it: ``cuts`` where the square is too small to be cut."""
    return "cuts" if sizing.is_too_small else sizing.outcome


def waits_for_side(messages: Iterable[Message]) -> bool:
    """Tell whether a photo may be measured once a person says how large its square is."""
    return any(message.code in _WAITS for message in messages)

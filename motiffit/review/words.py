"""What the page says where the command line would name an option."""

import re

from motiffit.messages import MESSAGES
from motiffit.record import Message

__all__ = ["page_text"]

_CURES: dict[str, str] = {
    "no-reference": "Lay the printed card flat beside the garment, all of it in frame and well "
    "lit, and take the photo again.",
    "reference-unknown-side": "Print the card anew with 'motiffit card' and take the photo again.",
    "no-motif": "If there is a motif, draw a box round it.",
    "motif-doubtful": "Drag the box's edges until it holds the whole motif and no more.",
    "motif-several": "Choose the one to frame.",
    "motif-none-there": "Choose another one.",
    "motif-none-near": "Choose another one, or draw a box round it.",
    "motif-maybe-too-large": "Drag the box's edges to what should show, or size the pile with a "
    "larger size as well.",
    "motif-crooked": "Turn the square if it should follow the motif.",
    "motif-too-large": "Choose a smaller part of the motif, or size the pile with larger sizes.",
    "no-cloth-for-any": "Size the pile with a smaller size as well.",
    "worker-died": "Save the photo as JPEG from a photo program, or leave it out.",
}
"""Cures by message code, in place of those that speak of options."""

_PLACEHOLDER = re.compile(r"\\\{.*?\\\}")


def page_text(message: Message) -> str:
    """Return a message with the cure that this page offers.

    Examples
    --------
    >>> from motiffit.record import make_message
    >>> page_text(make_message("motif-doubtful")).count("--")
    0
    """
    cure = _CURES.get(message.code)
    if cure is None:
        return message.text
    own = _PLACEHOLDER.sub(".+?", re.escape(MESSAGES[message.code].cure))
    return re.sub(rf" ?{own}$", f" {cure}", message.text)

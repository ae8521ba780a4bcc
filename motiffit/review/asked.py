"""What is asked of all photos of a pile, which the page may change while it is served."""

from dataclasses import dataclass

from motiffit.settings import Settings
from motiffit.size_sets import sizes_in_words

__all__ = ["Asked", "size_words"]


@dataclass(slots=True)
class Asked:
    """The settings that hold now: whoever keeps one of these sees a change at once."""

    settings: Settings


def size_words(settings: Settings) -> str:
    """Return the sizes to choose from in words, such as ``3, 6, 9 in``."""
    return sizes_in_words(settings.sizes_mm, settings.units)

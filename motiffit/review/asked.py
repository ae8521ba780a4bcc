"""What is asked of all photos of a pile, which the page may change while it is served."""

from dataclasses import dataclass, replace

from motiffit.ledger import Entry, Ledger
from motiffit.settings import Settings
from motiffit.size_sets import SizeSet

__all__ = ["Asked", "pile_settings", "size_words"]


@dataclass(slots=True)
class Asked:
    """The settings that hold now: whoever keeps one of these sees a change at once."""

    settings: Settings


def pile_settings(ledger: Ledger) -> Settings | None:
    """Return what the photos of a pile were asked; None when no record tells."""
    for entry in ledger.entries():
        settings = _settings_of_all(entry)
        if settings is not None:
            return settings
    return None


def size_words(settings: Settings) -> str:
    """Return the sizes to choose from in words, such as ``3, 6, 9 in``."""
    return SizeSet(name="", sizes_mm=settings.sizes_mm, units=settings.units).words


def _settings_of_all(entry: Entry) -> Settings | None:
    """Return what was asked of all photos, as far as one record tells; None where it does not."""
    said, settings = entry.said, entry.sizing.settings
    is_its_own = said.size_mm is not None or said.side_mm is not None
    if is_its_own or said.heeded(settings) != settings:
        return None
    own = {"outline_px", "outline_sd_mm", "near_px", "pick", "no_motif", "place"}
    return replace(settings, **{name: getattr(Settings(), name) for name in own})

"""What a pile was asked before: it holds where a new run says nothing else, and is told."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from motiffit.cli.options import unlike, usual_settings
from motiffit.cli.terminal import tell_aside
from motiffit.errors import FileError
from motiffit.ledger import Ledger
from motiffit.pile import pile_settings
from motiffit.settings import Settings
from motiffit.size_sets import sizes_in_words
from motiffit.units import format_length, format_side

__all__ = ["asked_before", "kept_words"]


def asked_before(folder: Path) -> Settings:
    """Return what the photos of a folder were asked, or what is usual; say what nobody can read."""
    try:
        ledger = Ledger.open(folder, create=False)
    except FileError:
        return usual_settings("in")  # a new pile, or one whose trouble the run itself will name
    asked = pile_settings(ledger)
    if asked is None and ledger.unread():
        tell_aside("what this pile was asked before cannot be read: give your options once more")
    return asked or usual_settings("in")


def kept_words(base: Settings, said: Mapping[str, str | None]) -> str:
    """Name what is asked as before, and not as usual, because nothing else was said.

    Parameters
    ----------
    base
        What was asked before, in the units of this run.
    said
        Words of the command line by the name of the setting; None for none.
    """
    usual = replace(usual_settings(base.units), units="in")
    words = {
        "units": f"units {base.units}",
        "sizes_mm": f"sizes {sizes_in_words(base.sizes_mm, base.units)}",
        "seam_allowance_mm": f"seam allowance {format_length(base.seam_allowance_mm, base.units)}",
        "clearance_mm": f"clearance {format_length(base.clearance_mm, base.units)}",
        "side_mm": f"side {format_side(base.side_mm or 0.0, base.units)}",
        "turn": f"turn {base.turn}",
    }
    kept = unlike(base, usual)
    return "; ".join(words[name] for name in words if name in kept and said[name] is None)

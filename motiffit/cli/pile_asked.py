"""What a pile was asked before: it holds where a new run says nothing else, and is told."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from motiffit.cli.options import usual_settings
from motiffit.errors import FileError
from motiffit.ledger import Ledger
from motiffit.pile import pile_settings
from motiffit.settings import Settings
from motiffit.size_sets import SizeSet
from motiffit.units import format_length, format_side

__all__ = ["asked_before", "is_forgotten", "kept_words"]


def asked_before(folder: Path) -> Settings | None:
    """Return what the photos of a folder were asked; None where no pile tells."""
    try:
        return pile_settings(Ledger.open(folder, create=False))
    except FileError:
        return None  # a new pile, or one whose trouble the run itself will name


def is_forgotten(folder: Path) -> bool:
    """Tell whether a folder holds a pile of which nobody can read any more what it was asked."""
    try:
        return bool(Ledger.open(folder, create=False).unread())
    except FileError:
        return False


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
        "sizes_mm": f"sizes {SizeSet(name='', sizes_mm=base.sizes_mm, units=base.units).words}",
        "seam_allowance_mm": f"seam allowance {format_length(base.seam_allowance_mm, base.units)}",
        "clearance_mm": f"clearance {format_length(base.clearance_mm, base.units)}",
        "side_mm": f"side {format_side(base.side_mm or 0.0, base.units)}",
        "turn": f"turn {base.turn}",
    }
    kept = [name for name in words if getattr(base, name) != getattr(usual, name)]
    return "; ".join(words[name] for name in kept if said[name] is None)

"""How sets of sizes compare for the pile, as ``motiffit choose`` compares them."""

from collections.abc import Sequence
from fractions import Fraction
from typing import Any

from motiffit.choosing import Need, SetTrial, best_sets, least_size, need_of, propose, try_set
from motiffit.errors import UsageError
from motiffit.ledger import Ledger
from motiffit.show.rows import Row
from motiffit.size_sets import SizeSet, known_sets, sizes_up_to
from motiffit.units import Units, format_length

__all__ = ["compare_sets"]

_STEP_MM: dict[Units, Fraction] = {"in": Fraction(127, 10), "cm": Fraction(10)}
_MOST_NUMBERS = 4  # of sizes in a set: more than that few quilters want to piece


def compare_sets(ledger: Ledger, rows: Sequence[Row], units: Units) -> dict[str, Any]:
    """Return how usual sets, and the best sets of one size, two and so on, would do.

    Raises
    ------
    UsageError
        If no garment has a motif.
    """
    counting = {row.photo for row in rows if row.counts}
    entries = [entry for entry in ledger.entries() if entry.photo in counting]
    with_motif = [entry for entry in entries if entry.sizing.motifs]
    if not with_motif:
        raise UsageError("No garment with a motif was measured yet.")
    offered = sizes_up_to(max(map(least_size, with_motif)), step_mm=_STEP_MM[units], units=units)
    usual = [one for one in known_sets() if one.units == units]
    tried = sorted({*offered, *(size for one in usual for size in one.sizes_mm)})
    needs = tuple(need_of(entry, tried) for entry in with_motif)
    best = best_sets(needs, offered)
    proposed = propose(best)
    shown = [trial for trial in best if len(trial.sizes_mm) <= _MOST_NUMBERS or trial is proposed]
    own = [
        SizeSet(name=f"best {_count(len(trial.sizes_mm))}", sizes_mm=trial.sizes_mm, units=units)
        for trial in shown
    ]
    trials = [(one, try_set(needs, one.sizes_mm)) for one in usual]
    return {
        "garments": len(needs),
        "without": len(entries) - len(needs),
        "sets": [
            {**_line(one, trial, units), "is_proposed": trial is proposed}
            for one, trial in [*trials, *zip(own, shown, strict=True)]
        ],
    }


def _line(one: SizeSet, trial: SetTrial, units: Units) -> dict[str, Any]:
    """Return one set's line."""
    spare = trial.spare_mm / max(sum(trial.squares), 1)
    return {
        "name": one.name,
        "sizes": one.words,
        "fit": len(trial.fit),
        "check": len(trial.check),
        "cut": len(trial.cut),
        "extend": len(trial.extend),
        "fails": _names(trial.cut),
        "spare": format_length(spare, units),
    }


def _names(needs: Sequence[Need]) -> list[str]:
    """Return the photos of garments, the largest motif first."""
    return [need.photo for need in sorted(needs, key=lambda need: -need.least_mm)]


def _count(number: int) -> str:
    """Say how many sizes."""
    return "one size" if number == 1 else f"{number} sizes"

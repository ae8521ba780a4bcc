"""Comparing size sets for a pile."""

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import typer

from motiffit.choosing import (
    SetTrial,
    best_sets,
    find_outsize,
    least_size,
    need_of,
    propose,
    try_set,
)
from motiffit.cli.choose_text import Comparison, count_words, to_json, to_text
from motiffit.cli.options import read_length
from motiffit.cli.terminal import fail
from motiffit.cli.unsized import tell_unsized
from motiffit.ledger import Entry, Ledger
from motiffit.pile import pile_rows
from motiffit.settings import Settings
from motiffit.show.rows import Row, do_without
from motiffit.size_sets import STEP_MM, SizeSet, known_sets, sizes_up_to
from motiffit.units import Units, parse_sizes

__all__ = ["run_choose"]

_OF_ALL = ("seam_allowance_mm", "clearance_mm", "side_mm", "units", "turn")
"""Settings that are asked of a whole pile, the sizes aside."""


def run_choose(
    folder: Path,
    own_sets: Sequence[str],
    step: str | None,
    *,
    units: Units,
    separator: str | None,
    leave_out: Sequence[str],
    all_garments: bool,
    json: bool,
) -> None:
    """Compare size sets for a sized pile and print the comparison.

    Parameters
    ----------
    folder
        Where the photos are.
    own_sets
        Sets of the user's own, in words.
    step
        What sizes of the best set are multiples of, in words.
    units
        Of answers, and of lengths without a unit.
    separator
        As for `motiffit.garments.garment_name`.
    leave_out
        Names of garments or photos to do without.
    all_garments
        Whether the proposal holds the few by far largest motifs too.
    json
        Whether to print a document for programs.
    """
    step_mm = _read_step(step, units) if step else STEP_MM[units]
    sets = [*_own_sets(own_sets, units), *known_sets()]
    ledger = Ledger.open(folder, create=False)
    rows = pile_rows(ledger, separator=separator)
    tell_unsized(ledger, rows)
    compared = _compare(
        ledger,
        rows,
        sets,
        step_mm,
        units=units,
        leave_out=leave_out,
        all_garments=all_garments,
    )
    typer.echo(to_json(compared) if json else to_text(compared))


def _read_step(text: str, units: Units) -> Fraction:
    """Read what the sizes of the best set are multiples of."""
    step_mm = read_length("--step", text, units)
    if step_mm < 1:
        raise typer.BadParameter(
            "a step below 1 mm is finer than anybody sews", param_hint="--step"
        )
    return Fraction(step_mm).limit_denominator(1000)


def _own_sets(texts: Sequence[str], units: Units) -> list[SizeSet]:
    """Read the sets that the user wants compared."""
    try:
        parsed = [tuple(float(size) for size in parse_sizes(text, units)) for text in texts]
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--sizes") from error
    return [SizeSet(name="your own", sizes_mm=sizes, units=units) for sizes in parsed]


def _compare(
    ledger: Ledger,
    rows: Sequence[Row],
    sets: list[SizeSet],
    step_mm: Fraction,
    *,
    units: Units,
    leave_out: Sequence[str],
    all_garments: bool,
) -> Comparison:
    """Try every set on the garments that count."""
    counting = {row.photo for row in do_without(rows, leave_out) if row.counts}
    found = (ledger.entry(photo) for photo in ledger.photos() if photo in counting)
    entries = [entry for entry in found if entry is not None]
    with_motif = [entry for entry in entries if entry.sizing.motifs]
    if not with_motif:
        fail(f"no garment of {ledger.folder} has a motif that was measured")
    offered = sizes_up_to(max(map(least_size, with_motif)), step_mm=step_mm, units=units)
    tried = sorted({*offered, *(size for one in sets for size in one.sizes_mm)})
    needs = tuple(need_of(entry, tried) for entry in with_motif)
    best = best_sets(needs, offered)
    one = SizeSet(name="one size for all", sizes_mm=best[0].sizes_mm, units=units)
    for_all = propose(best)
    outsize = find_outsize(needs, offered, for_all)
    if outsize and not all_garments:
        best = best_sets([need for need in needs if need not in outsize.needs], offered)
    return Comparison(
        folder=ledger.folder,
        settings=_asked(entries),
        left_out=tuple(leave_out),
        needs=needs,
        without=tuple(entry.photo for entry in entries if not entry.sizing.motifs),
        trials=tuple((one_set, try_set(needs, one_set.sizes_mm)) for one_set in [*sets, one]),
        best=tuple((_named(trial, units), trial) for trial in best),
        proposed=propose(best),
        for_all=for_all,
        outsize=outsize,
        units=units,
    )


def _named(trial: SetTrial, units: Units) -> SizeSet:
    """Name a best set by how many sizes it has."""
    words = count_words(len(trial.sizes_mm), "size")
    return SizeSet(name=words, sizes_mm=trial.sizes_mm, units=units)


def _asked(entries: Sequence[Entry]) -> Settings:
    """Return what was asked of most photos of the pile, whatever was said of single ones."""
    asked = Counter(
        replace(Settings(), **{name: getattr(entry.sizing.settings, name) for name in _OF_ALL})
        for entry in entries
    )
    return asked.most_common(1)[0][0]

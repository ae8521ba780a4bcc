"""Comparing size sets for a pile, and saying how they compare."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from json import dumps
from math import isfinite
from pathlib import Path
from typing import Any

import typer

from motiffit.choosing import Need, SetTrial, best_sets, least_size, need_of, propose, try_set
from motiffit.cli.options import read_length
from motiffit.cli.terminal import clean_name, fail, screen_width
from motiffit.ledger import Ledger
from motiffit.pile import pile_rows
from motiffit.show.columns import column_text
from motiffit.show.words import format_up, wrap_words
from motiffit.size_sets import SizeSet, known_sets, sizes_up_to
from motiffit.units import Units, format_length, parse_sizes

__all__ = ["run_choose"]

_STEP_MM: dict[Units, float] = {"in": 12.7, "cm": 10.0}
_MOST_NAMES = 12  # of the garments that a set fails; the JSON document has all


@dataclass(frozen=True, slots=True, kw_only=True)
class _Comparison:
    """What was compared for which garments."""

    needs: tuple[Need, ...]
    without: tuple[str, ...]
    trials: tuple[tuple[SizeSet, SetTrial], ...]
    best: tuple[tuple[SizeSet, SetTrial], ...]
    proposed: SetTrial
    units: Units


def run_choose(
    folder: Path,
    own_sets: Sequence[str],
    step: str | None,
    *,
    units: Units,
    separator: str | None,
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
    json
        Whether to print a document for programs.
    """
    step_mm = read_length("--step", step, units) if step else _STEP_MM[units]
    if step_mm < 1:
        raise typer.BadParameter(
            "a step below 1 mm is finer than anybody sews", param_hint="--step"
        )
    sets = [*_own_sets(own_sets, units), *known_sets()]
    ledger = Ledger.open(folder, create=False)
    compared = _compare(ledger, sets, step_mm, units=units, separator=separator)
    typer.echo(_to_json(compared) if json else _to_text(compared))


def _own_sets(texts: Sequence[str], units: Units) -> list[SizeSet]:
    """Read the sets that the user wants compared."""
    try:
        parsed = [tuple(float(size) for size in parse_sizes(text, units)) for text in texts]
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--sizes") from error
    return [SizeSet(name="your own", sizes_mm=sizes, units=units) for sizes in parsed]


def _compare(
    ledger: Ledger, sets: list[SizeSet], step_mm: float, *, units: Units, separator: str | None
) -> _Comparison:
    """Try every set on the garments that count."""
    counting = {row.photo for row in pile_rows(ledger, separator=separator) if row.counts}
    entries = [entry for entry in ledger.entries() if entry.photo in counting]
    with_motif = [entry for entry in entries if entry.sizing.motifs]
    if not with_motif:
        fail(f"no garment of {ledger.folder} has a motif that was measured")
    step = Fraction(step_mm).limit_denominator(1000)
    offered = sizes_up_to(max(map(least_size, with_motif)), step_mm=step, units=units)
    tried = sorted({*offered, *(size for one in sets for size in one.sizes_mm)})
    needs = tuple(need_of(entry, tried) for entry in with_motif)
    best = best_sets(needs, offered)
    one = SizeSet(name="one size for all", sizes_mm=best[0].sizes_mm, units=units)
    return _Comparison(
        needs=needs,
        without=tuple(entry.photo for entry in entries if not entry.sizing.motifs),
        trials=tuple((one_set, try_set(needs, one_set.sizes_mm)) for one_set in [*sets, one]),
        best=tuple(
            (SizeSet(name=_count(len(t.sizes_mm), "size"), sizes_mm=t.sizes_mm, units=units), t)
            for t in best
        ),
        proposed=propose(best),
        units=units,
    )


def _to_text(compared: _Comparison) -> str:
    """Say how the sets compare, which is proposed, and which garments a set fails."""
    words = f"{_count(len(compared.needs), 'garment')} with a motif"
    if compared.without:
        words += f"; left out, without one or not measured: {len(compared.without)}"
    blocks = [words, _sets_text(compared.trials), _best_text(compared), _proposal(compared)]
    blocks += [_cut_text(compared)]
    return "\n\n".join(block for block in blocks if block)


def _sets_text(trials: Sequence[tuple[SizeSet, SetTrial]]) -> str:
    """Return one line per set."""
    lines = [["Set", "Sizes", "Fit", "Check", "Cut", "Extend"]]
    for one, trial in trials:
        counts = (trial.fit, trial.check, trial.cut, trial.extend)
        lines.append([one.name, one.words, *(str(len(part)) for part in counts)])
    return (
        column_text(lines, words=2)
        + "\n  Check: needs your eye. Cut: no size of the set holds the motif."
        + "\n  Extend: of those to check, too little cloth without an extension piece."
    )


def _best_text(compared: _Comparison) -> str:
    """Return what each further size buys."""
    lines = [["", "Number", "Sizes", "Extend", "Spare"]]
    best = compared.best
    place = next(n for n, (_, trial) in enumerate(best) if trial is compared.proposed)
    for one, trial in best[: max(place + 3, 4)]:
        spare = trial.spare_mm / max(sum(trial.squares), 1)
        mark = "->" if trial is compared.proposed else ""
        lines.append(
            [mark, one.name, one.words, str(len(trial.extend)), format_length(spare, one.units)]
        )
    return (
        "The best set of each number of sizes that holds every motif\n"
        + column_text(lines, words=3)
        + "\n  Spare: how much larger the centre is than its motif needs, on average."
    )


def _proposal(compared: _Comparison) -> str:
    """Say which set is proposed and how many squares of each size it gives."""
    one, trial = next(pair for pair in compared.best if pair[1] is compared.proposed)
    squares = ", ".join(
        f"{format_length(size, one.units)} for {count}"
        for size, count in zip(trial.sizes_mm, trial.squares, strict=True)
    )
    why = "the fewest sizes that hold every motif"
    if len(trial.sizes_mm) > 1:
        why += " without an extension piece that a further size would spare"
    text = f'Proposed: {one.words} ({squares}), {why}. To use it: --sizes "{one.words}"'
    return "\n".join(wrap_words(text, screen_width()))


def _cut_text(compared: _Comparison) -> str:
    """Name the garments whose motif a set would cut, the largest first, with the size needed."""
    failing = {
        need: [one.name for one, trial in compared.trials if need in trial.cut]
        for need in sorted(compared.needs, key=lambda need: -need.least_mm)
    }
    failed = [(need, sets) for need, sets in failing.items() if sets]
    lines = []
    for need, sets in failed[:_MOST_NAMES]:
        least = format_up(need.least_mm, compared.units)
        words = (
            f"{clean_name(need.photo)}: {least} or more; cut by {', '.join(dict.fromkeys(sets))}"
        )
        lines += wrap_words(words, screen_width(), first="  ", rest="      ")
    if len(failed) > _MOST_NAMES:
        lines.append(f"  and {len(failed) - _MOST_NAMES} more (all of them with --json)")
    return "\n".join(["Motifs too large for a set", *lines]) if lines else ""


def _to_json(compared: _Comparison) -> str:
    """Return the comparison for programs."""
    document = {
        "schema": "motiffit.choice/1",
        "garments": [
            {
                "photo": need.photo,
                "least_mm": need.least_mm,
                "cloth_mm": need.cloth_mm if isfinite(need.cloth_mm) else None,
                "needs_an_eye": need.is_doubtful,
            }
            for need in compared.needs
        ],
        "without_motif": compared.without,
        "sets": [_trial_dict(*pair) for pair in compared.trials],
        "best": [_trial_dict(*pair) for pair in compared.best],
        "proposed_mm": compared.proposed.sizes_mm,
    }
    return dumps(document, allow_nan=False)


def _trial_dict(one: SizeSet, trial: SetTrial) -> dict[str, Any]:
    """Return one set's trial, JSON-ready."""
    names = {
        part: [need.photo for need in getattr(trial, part)]
        for part in ("fit", "check", "extend", "cut")
    }
    return {
        "name": one.name,
        "sizes": one.words,
        "sizes_mm": one.sizes_mm,
        "squares": trial.squares,
        **names,
        "spare_mm": trial.spare_mm,
    }


def _count(number: int, noun: str) -> str:
    """Return a number with its noun."""
    return f"{number} {noun}{'' if number == 1 else 's'}"

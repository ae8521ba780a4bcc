"""How a comparison of size sets is put: on the screen, and as a document for programs."""

import re
import shlex
from collections.abc import Sequence
from dataclasses import dataclass
from json import dumps
from math import isfinite
from pathlib import Path
from typing import Any

from motiffit.choosing import Need, Outsize, SetTrial
from motiffit.cli.options import usual_settings
from motiffit.cli.terminal import clean_name, screen_width
from motiffit.settings import Settings
from motiffit.show.columns import column_text
from motiffit.show.words import format_up, wrap_words
from motiffit.size_sets import SizeSet, sizes_in_words
from motiffit.units import Units, format_inches, format_length, parse_length

__all__ = ["Comparison", "count_words", "to_json", "to_text"]

_LENGTH_OPTIONS = {
    "--seam-allowance": "seam_allowance_mm",
    "--clearance": "clearance_mm",
    "--side": "side_mm",
}
_PLAIN, _EASY = re.compile(r"[\w./:\\-]+"), re.compile(r"[^\"$`!\\]+")
_MOST_NAMES = 12  # of the garments that a set fails; the JSON document has all


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """What was compared for which garments.

    Attributes
    ----------
    folder, settings, left_out
        The pile, what was asked of all its photos, and names that were left out.
    needs, without
        Garments with a motif, and photos of those without.
    trials, best
        The usual sets, and the best of each number of sizes.
    proposed, for_all
        The set proposed, and the one that holds every motif.
    outsize
        The few garments for which alone that is so large; left out of a proposal that is not it.
    units
        Of answers.
    """

    folder: Path
    settings: Settings
    left_out: tuple[str, ...]
    needs: tuple[Need, ...]
    without: tuple[str, ...]
    trials: tuple[tuple[SizeSet, SetTrial], ...]
    best: tuple[tuple[SizeSet, SetTrial], ...]
    proposed: SetTrial
    for_all: SetTrial
    outsize: Outsize | None
    units: Units

    @property
    def is_for_all(self) -> bool:
        """Whether the set proposed is meant to hold every motif."""
        return self.proposed.sizes_mm == self.for_all.sizes_mm


def to_text(compared: Comparison) -> str:
    """Say how the sets compare, which is proposed, and which garments a set fails."""
    words = f"{count_words(len(compared.needs), 'garment')} with a motif"
    if compared.without:
        words += f"; not compared, for they have none or were not measured: {len(compared.without)}"
    blocks = [
        words,
        _sets_text(compared.trials),
        _outsize_text(compared),
        _best_text(compared),
        _proposal(compared),
        _cut_text(compared),
    ]
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


def _best_text(compared: Comparison) -> str:
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
        f"The best set of each number of sizes that holds every {_motif_words(compared)}\n"
        + column_text(lines, words=3)
        + "\n  Spare: how much larger the centre is than its motif needs, on average."
    )


def _proposal(compared: Comparison) -> str:
    """Say which set is proposed, how many squares of each size it gives, and how to use it."""
    one, trial = next(pair for pair in compared.best if pair[1] is compared.proposed)
    squares = ", ".join(
        f"{format_length(size, one.units)} for {count}"
        for size, count in zip(trial.sizes_mm, trial.squares, strict=True)
    )
    sentences = [f"Every {_motif_words(compared)} has room: {squares}."]
    if len(trial.sizes_mm) > 1:
        sentences.append("With fewer sizes more garments would need an extension piece.")
    if trial.extend:
        garments = count_words(len(trial.extend), "garment")
        sentences.append(f"{garments} will need an extension piece with any set.")
    return "\n".join(
        [
            f"Proposed: {one.words}",
            *wrap_words(" ".join(sentences), screen_width(), first="  ", rest="  "),
            "  To use it:",
            f"    {_pile_command(compared, one.words)}",
        ]
    )


def _pile_command(compared: Comparison, sizes: str) -> str:
    """Return the command that sizes the pile with a set, all else as it was asked before."""
    asked = compared.settings
    words = ["pile", str(compared.folder), "--sizes", sizes]
    usual = usual_settings(asked.units)
    for option, name in _LENGTH_OPTIONS.items():
        length_mm = getattr(asked, name)
        if length_mm is not None and length_mm != getattr(usual, name):
            words += [option, _exact_words(length_mm)]
    words += [] if asked.units == "in" else ["--units", asked.units]
    words += [] if asked.turn == "grain" else ["--turn", asked.turn]
    return _command(words)


def _exact_words(length_mm: float) -> str:
    """Print a length so that it is read back exactly."""
    words = format_inches(length_mm)
    is_exact = abs(float(parse_length(words, "in")) - length_mm) < 1e-9
    return words if is_exact else f"{length_mm:g} mm"


def _command(words: Sequence[str]) -> str:
    """Return a command of ours to be copied into a terminal."""
    quoted = []
    for word in map(clean_name, words):
        is_plain, is_easy = _PLAIN.fullmatch(word), _EASY.fullmatch(word)
        # in double quotes where that will do: they are understood on Windows too
        quoted.append(word if is_plain else f'"{word}"' if is_easy else shlex.quote(word))
    return " ".join(["motiffit", *quoted])


def _outsize_text(compared: Comparison) -> str:
    """Name the few garments that alone would make the largest size so large, and what they cost."""
    outsize, units = compared.outsize, compared.units
    if outsize is None:
        return ""
    names = ", ".join(
        f"{clean_name(need.photo)} ({format_up(need.least_mm, units)})" for need in outsize.needs
    )
    it = "it" if len(outsize.needs) == 1 else "them"
    if compared.is_for_all:
        largest = format_length(compared.proposed.sizes_mm[-1], units)
        without = _set_words(outsize.without, units)
        text = f"{largest} is there only for {names}. Without {it} the set would be {without}."
        return "\n".join(wrap_words(text, screen_width()))
    for_all = _set_words(compared.for_all, units)
    text = (
        f"Left out of the proposal, and so without a block: {names}. With {it} the set would be "
        f"{for_all}."
    )
    words = ["choose", str(compared.folder), "--all-garments"]
    words += [word for name in compared.left_out for word in ("--leave-out", name)]
    words += [] if units == "in" else ["--units", units]
    return "\n".join(
        [*wrap_words(text, screen_width()), f"  To include {it}:", f"    {_command(words)}"]
    )


def _set_words(trial: SetTrial, units: Units) -> str:
    """Name the sizes of a set."""
    return sizes_in_words(trial.sizes_mm, units)


def _motif_words(compared: Comparison) -> str:
    """Say which motifs the proposal holds."""
    return "motif" if compared.is_for_all else "other motif"


def _cut_text(compared: Comparison) -> str:
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


def to_json(compared: Comparison) -> str:
    """Return the comparison for programs."""
    document = {
        "schema": "motiffit.choice/1",
        "garments": [
            {
                "photo": need.photo,
                "least_mm": need.least_mm,
                "cloth_mm": need.cloth_mm if isfinite(need.cloth_mm) else None,
                "needs_an_eye": need.is_doubtful and need.accepted_mm is None,
            }
            for need in compared.needs
        ],
        "without_motif": compared.without,
        "sets": [_trial_dict(*pair) for pair in compared.trials],
        "best": [_trial_dict(*pair) for pair in compared.best],
        "proposed_mm": compared.proposed.sizes_mm,
        "outsize": None
        if compared.outsize is None
        else {
            "photos": [need.photo for need in compared.outsize.needs],
            "without_mm": compared.outsize.without.sizes_mm,
            "with_mm": compared.for_all.sizes_mm,
        },
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


def count_words(number: int, noun: str) -> str:
    """Return a number with its noun."""
    return f"{number} {noun}{'' if number == 1 else 's'}"

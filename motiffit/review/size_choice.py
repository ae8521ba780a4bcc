"""Which sizes the quilt is made of: sets compared, as ``motiffit choose`` does, and put to use."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from motiffit.choosing import (
    Need,
    Outsize,
    SetTrial,
    best_sets,
    find_outsize,
    least_size,
    need_of,
    propose,
    try_set,
)
from motiffit.errors import Refusal, UsageError
from motiffit.ledger import Entry, Ledger, program_version
from motiffit.lock import Busy
from motiffit.resizing import resize
from motiffit.review.asked import Asked, size_words
from motiffit.review.pictures import Pictures
from motiffit.review.tidings import Tidings
from motiffit.settings import Settings
from motiffit.show.words import format_up
from motiffit.size_sets import STEP_MM, SizeSet, known_sets, sizes_in_words, sizes_up_to
from motiffit.units import Units, format_length, parse_sizes

__all__ = ["SizeSets"]

_MOST_NUMBERS = 4  # of sizes in a set: more than that few quilters want to piece
_FOR_ALL = "every motif"
_BRIEF_WAIT_S = 5.0  # a look whether anything is out of date takes a second or two
_LARGEST_MM = 1e6  # the settings refuse far smaller ones with words for a person
_MOST_SIZES = 40  # of a set that somebody sends; no rack of rulers has more


class SizeSets:
    """The size sets of one pile.

    Parameters
    ----------
    ledger
        The pile.
    asked
        What is asked of all photos; ``use`` changes it.
    tidings
        What is known of the photos.
    pictures
        Where squares are drawn into photos.
    """

    def __init__(self, ledger: Ledger, asked: Asked, tidings: Tidings, pictures: Pictures) -> None:
        self._ledger = ledger
        self._asked = asked
        self._tidings = tidings
        self._pictures = pictures

    def compare(self, own: str = "") -> dict[str, Any]:
        """Return how sets would do: the one in use, usual ones, the best, and one's own.

        The set proposed is that of ``motiffit choose``: it leaves out the few garments for which
        alone the largest size would be much larger. How many a set holds is told of all garments.

        Parameters
        ----------
        own
            Sizes in words; empty for none.

        Raises
        ------
        UsageError
            If no garment has a motif, or the words are no sizes.
        """
        units = self._asked.settings.units
        counting = {row.photo for row in self._tidings.rows() if row.counts}
        entries = [entry for entry in self._ledger.entries() if entry.photo in counting]
        with_motif = [entry for entry in entries if entry.sizing.motifs]
        if not with_motif:
            raise UsageError("No garment with a motif was measured yet.")
        offered = sizes_up_to(max(map(least_size, with_motif)), step_mm=STEP_MM[units], units=units)
        given = self._given_sets(own)
        tried = sorted({*offered, *(size for one in given for size in one.sizes_mm)})
        needs = tuple(need_of(entry, tried) for entry in with_motif)
        for_all = propose(best_sets(needs, offered))
        outsize = find_outsize(needs, offered, for_all)
        left_out = outsize.needs if outsize else ()
        best = best_sets([need for need in needs if need not in left_out], offered)
        proposed = propose(best)
        shown = [
            trial for trial in best if len(trial.sizes_mm) <= _MOST_NUMBERS or trial is proposed
        ]
        sets = [*given, *(_best_set(trial, units) for trial in shown)]
        if outsize:
            sets.append(SizeSet(name=_FOR_ALL, sizes_mm=for_all.sizes_mm, units=units))
        place = len(given) + shown.index(proposed)
        return {
            "garments": len(needs),
            "without": len(entries) - len(needs),
            "outsize": outsize and self._outsize(outsize, for_all),
            "sets": [
                {**self._line(one, try_set(needs, one.sizes_mm)), "is_proposed": number == place}
                for number, one in enumerate(sets)
            ],
        }

    def use(self, sizes_mm: object) -> dict[str, Any]:
        """Answer every photo for another set; what a person said of single photos stands.

        No photo is read: the answers follow from what was measured. A record of another version of
        the program is left for the next look at the pile, which measures its photo again.

        Parameters
        ----------
        sizes_mm
            The sizes as `compare` names them.

        Returns
        -------
        dict
            How many squares changed, and the sizes before, for the way back.

        Raises
        ------
        ValueError
            If those are no sizes.
        UsageError
            If photos are being measured at this moment.
        """
        before = self._asked.settings
        settings = replace(before, sizes_mm=_sizes(sizes_mm))
        try:
            with self._ledger.running(wait_s=_BRIEF_WAIT_S):
                self._ledger.keep_asked(settings)
                self._asked.settings = settings
                self._tidings.look_again()  # measures again whatever is not answered below
                changed = [
                    entry.photo
                    for entry in self._ledger.entries()
                    if self._answer_anew(entry, before, settings)
                ]
        except Busy as busy:
            raise UsageError(
                "Photos are being measured just now. Choose the sizes when that is done."
            ) from busy
        return {
            "changed": len(changed),
            "before_mm": list(before.sizes_mm),
            "before_words": size_words(before),
            "words": size_words(settings),
        }

    def _answer_anew(self, entry: Entry, before: Settings, settings: Settings) -> bool:
        """Answer one photo for other sizes; whether its square changed."""
        sizing, wanted = entry.sizing, entry.said.heeded(settings)
        is_current = entry.program == program_version() and sizing.settings == entry.said.heeded(
            before
        )
        if wanted == sizing.settings or not is_current:
            return False
        try:
            resized = resize(sizing, wanted)
        except Refusal:
            return False  # to be measured again, which tells why
        photo = entry.photo
        if not self._ledger.write(photo, resized, photo_hash=entry.photo_hash, settings=settings):
            return False  # somebody corrects it at this moment: to be sized with that
        if resized.window == sizing.window:
            return False
        self._pictures.draw(photo, resized)
        return True

    def _given_sets(self, own: str) -> list[SizeSet]:
        """Return the sets that are compared whatever the pile is like."""
        settings = self._asked.settings
        usual = [one for one in known_sets() if one.units == settings.units]
        sets = [SizeSet(name="as now", sizes_mm=settings.sizes_mm, units=settings.units)]
        if own.strip():
            try:
                sizes = [float(size) for size in parse_sizes(own, settings.units)]
            except (ValueError, OverflowError) as error:
                raise UsageError(f"Your own set: {error}") from error
            asked = replace(settings, sizes_mm=_sizes(sizes))
            sets.append(SizeSet(name="your own", sizes_mm=asked.sizes_mm, units=asked.units))
        return sets + [one for one in usual if not _is_same(one.sizes_mm, settings.sizes_mm)]

    def _line(self, one: SizeSet, trial: SetTrial) -> dict[str, Any]:
        """Return one set's line."""
        spare = trial.spare_mm / max(sum(trial.squares), 1)
        return {
            "name": one.name,
            "sizes": one.words,
            "sizes_mm": list(one.sizes_mm),
            "is_used": _is_same(one.sizes_mm, self._asked.settings.sizes_mm),
            "fit": len(trial.fit),
            "check": len(trial.check),
            "cut": len(trial.cut),
            "extend": len(trial.extend),
            "fails": self._garments(trial.cut),
            "spare": format_length(spare, one.units),
        }

    def _outsize(self, outsize: Outsize, for_all: SetTrial) -> dict[str, Any]:
        """Return the few garments that the proposal leaves out, and the set that holds all."""
        return {
            "garments": self._garments(outsize.needs),
            "for_all": sizes_in_words(for_all.sizes_mm, self._asked.settings.units),
        }

    def _garments(self, needs: Sequence[Need]) -> list[dict[str, str]]:
        """Return photos and keys of garments and the sizes they need, the largest motif first."""
        units = self._asked.settings.units
        return [
            {
                "photo": need.photo,
                "key": self._ledger.picture_of(need.photo).stem,
                "least": format_up(need.least_mm, units),
            }
            for need in sorted(needs, key=lambda need: -need.least_mm)
        ]


def _sizes(values: object) -> tuple[float, ...]:
    """Read sizes that the page sends; that they ascend is checked with the settings."""
    if not isinstance(values, list) or not 0 < len(values) <= _MOST_SIZES:
        raise ValueError(f"a set has 1 to {_MOST_SIZES} sizes")
    if not all(type(value) in (int, float) and 0 < value < _LARGEST_MM for value in values):
        raise ValueError("sizes are numbers greater than zero")
    return tuple(map(float, values))


def _is_same(one: Sequence[float], other: Sequence[float]) -> bool:
    """Tell whether two sets hold the same sizes, to a hundredth of a millimetre."""
    return [round(size, 2) for size in one] == [round(size, 2) for size in other]


def _best_set(trial: SetTrial, units: Units) -> SizeSet:
    """Name a best set by how many sizes it has."""
    number = len(trial.sizes_mm)
    words = "one size" if number == 1 else f"{number} sizes"
    return SizeSet(name=f"best {words}", sizes_mm=trial.sizes_mm, units=units)

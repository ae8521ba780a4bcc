"""How the words of ``motiffit plan`` become the wishes for a quilt."""

import re
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any

import typer

from motiffit.quilt.beds import MATTRESSES, quilt_for_bed
from motiffit.quilt.colour import parse_colour
from motiffit.quilt.options import Fabric, PlanOptions, default_options
from motiffit.units import MM_PER_INCH, Units, parse_length, split_lengths

__all__ = ["Wishes", "make_options"]

_USUAL_DROP_MM = 12 * MM_PER_INCH
# colours for fabrics named without one, in turn: light, dark, and between
_COLOURS = ("#e9dfc9", "#5b7089", "#c9b79b", "#8a9a7b", "#b98a7a", "#7d6b8a")
_PARTS = {
    "sash": "sash_fabric",
    "border": "border_fabric",
    "binding": "binding_fabric",
    "plain": "plain_fabric",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Wishes:
    """What was typed; None or empty where nothing was.

    Attributes
    ----------
    lengths
        Words for lengths, by the field of `PlanOptions` and the option's name.
    choices
        Values that need no reading, by the field of `PlanOptions`; None where nothing was typed.
    strips, borders
        Several lengths.
    fabrics, parts
        Fabrics of the strips, and of other parts.
    quilt_size, bed, drop
        How large the quilt should be.
    shrinkage
        In per cent.
    """

    lengths: dict[tuple[str, str], str | None]
    choices: dict[str, Any]
    strips: str | None
    borders: str | None
    fabrics: str | None
    parts: list[str]
    quilt_size: str | None
    bed: str | None
    drop: str | None
    shrinkage: float | None


def make_options(wishes: Wishes, units: Units, base: PlanOptions | None = None) -> PlanOptions:
    """Build the plan's options.

    Parameters
    ----------
    wishes
        What was typed.
    units
        Of lengths without a unit.
    base
        What holds where nothing was typed; None for what is usual in the units.

    Raises
    ------
    typer.BadParameter
        For words that cannot be read; the text says what could.
    """
    base = base or default_options(units)
    changes: dict[str, Any] = {k: v for k, v in wishes.choices.items() if v is not None}
    for (name, option), words in wishes.lengths.items():
        if words is not None:
            changes[name] = _length(option, words, units)
    if wishes.strips is not None:
        changes["strips_mm"] = _lengths("--strips", wishes.strips, units)
    if wishes.borders is not None:
        changes["borders_mm"] = _lengths("--borders", wishes.borders, units)
    if wishes.shrinkage is not None:
        changes["shrinkage"] = Fraction(str(wishes.shrinkage)) / 100
    if wishes.fabrics is not None:
        changes["fabrics"] = _fabrics(wishes.fabrics)
    for part in wishes.parts:
        name, _, fabric = part.partition("=")
        if name.strip() not in _PARTS or not fabric:
            raise _bad("--part", f"'{part}': write for instance binding=navy:#203050, for one of "
                       f"{', '.join(_PARTS)}")  # fmt: skip
        changes[_PARTS[name.strip()]] = _part_fabric(fabric, changes.get("fabrics", base.fabrics))
    if wish_mm := _wished_size(wishes, units):
        changes["wish_mm"] = wish_mm
    return replace(base, **changes)


def _bad(option: str, reason: str) -> typer.BadParameter:
    """Name the option whose words cannot be read."""
    return typer.BadParameter(reason, param_hint=option)


def _length(option: str, words: str, units: Units) -> Fraction:
    """Read one length."""
    try:
        return parse_length(words, units)
    except ValueError as error:
        raise _bad(option, str(error)) from error


def _lengths(option: str, words: str, units: Units) -> tuple[Fraction, ...]:
    """Read lengths in the order given, separated as in a size set; a last unit holds for all."""
    return tuple(_length(option, part, units) for part in split_lengths(words))


def _fabrics(words: str) -> tuple[Fabric, ...]:
    """Read fabrics such as ``cream:#e9dfc9, navy``."""
    parts = [part.strip() for part in words.split(",") if part.strip()]
    return tuple(
        _fabric(part, _COLOURS[number % len(_COLOURS)], "--fabrics")
        for number, part in enumerate(parts)
    )


def _part_fabric(words: str, strips: tuple[Fabric, ...]) -> Fabric:
    """Read the fabric of a part; one of the strips' fabrics has the colour that it has there."""
    known = {fabric.name: fabric for fabric in strips}
    return known.get(words.strip()) or _fabric(words, _COLOURS[1], "--part")


def _fabric(words: str, colour: str, option: str) -> Fabric:
    """Read one fabric, its colour behind a colon."""
    name, _, told = words.strip().partition(":")
    if not name.strip():
        raise _bad(option, f"'{words}' has no name: write for instance navy:#203050")
    try:
        parse_colour(told or colour)
    except ValueError as error:
        raise _bad(option, str(error)) from error
    return Fabric(name=name.strip(), colour=told or colour)


def _wished_size(wishes: Wishes, units: Units) -> tuple[Fraction, Fraction] | None:
    """Read the quilt's size, or work it out from the bed."""
    if wishes.bed is not None:
        if wishes.quilt_size is not None:
            raise _bad("--bed", "give --bed or --quilt-size, not both")
        drop = _USUAL_DROP_MM if wishes.drop is None else _length("--drop", wishes.drop, units)
        return quilt_for_bed(wishes.bed, drop)
    if wishes.drop is not None:
        raise _bad("--drop", f"a drop belongs to --bed: one of {', '.join(MATTRESSES)}")
    if wishes.quilt_size is None:
        return None
    parts = re.split(r"\s*[x\u00d7]\s*", wishes.quilt_size.strip())
    if len(parts) != 2:
        raise _bad("--quilt-size", f"'{wishes.quilt_size}': write for instance '50 x 60 in'")
    width, height = _lengths("--quilt-size", ";".join(parts), units)
    return width, height

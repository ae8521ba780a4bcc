"""The quilt's form: what was filled in, kept with the pile, and what it asks of the plan."""

import json
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from fractions import Fraction
from typing import Any, Self

from motiffit.errors import UsageError
from motiffit.files import write_whole
from motiffit.ledger import Ledger
from motiffit.quilt import Fabric, PlanOptions, default_options
from motiffit.quilt.colour import parse_colour
from motiffit.units import Units, parse_length

__all__ = ["QuiltForm", "read_form", "write_form"]

_CHOICES = {
    "scheme": ("one", "halves", "rounds", "sides"),
    "turning": ("same", "furrows", "barn", "pinwheel"),
    "construction": ("log-cabin", "courthouse"),
    "paper": ("", "letter", "a4"),
}
_MOST_FABRICS, _MOST_LETTERS, _MOST_BLOCKS, _LAST_SEED = 8, 80, 100, 10**6
_UNIT_AT_END = re.compile(r'[a-zA-Z"]+$')
_TIMES = re.compile(r"\s*[x\u00d7]\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class QuiltForm:
    """The form as it was filled in; empty where nothing was.

    Attributes
    ----------
    block, strips, sashing, borders, size
        Lengths, or several, in words.
    rows, columns
        0 to have them chosen.
    scheme, turning, construction
        As in `motiffit.quilt.PlanOptions`.
    fabrics
        Name and colour of each fabric of the strips.
    paper
        What the sheets are printed on; empty for what goes with the units.
    seed
        Start of the layout's random choices.
    """

    block: str = ""
    strips: str = ""
    sashing: str = ""
    borders: str = ""
    size: str = ""
    rows: int = 0
    columns: int = 0
    scheme: str = "halves"
    turning: str = "same"
    construction: str = "log-cabin"
    fabrics: tuple[tuple[str, str], ...] = ()
    paper: str = ""
    seed: int = 1

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Self:
        """Read the form from the page or the disk.

        Raises
        ------
        ValueError
            For what the form cannot say.
        """
        unknown = set(data) - {part.name for part in fields(cls)}
        if unknown:
            raise ValueError(f"not in the form: {', '.join(sorted(unknown))}")
        return cls(**{name: _checked(name, value) for name, value in data.items()})

    def to_options(self, units: Units) -> PlanOptions:
        """Return the plan's options.

        Raises
        ------
        UsageError
            For words that cannot be read, or wishes that contradict one another.
        """
        changes: dict[str, Any] = {
            "scheme": self.scheme,
            "turning": self.turning,
            "construction": self.construction,
            "rows": self.rows or None,
            "columns": self.columns or None,
            "seed": self.seed,
            "fabrics": tuple(Fabric(name=name, colour=colour) for name, colour in self.fabrics),
            "strips_mm": _lengths("strips", self.strips, units),
            "borders_mm": _lengths("borders", self.borders, units),
        }
        for name, option in (("block", "block_mm"), ("sashing", "sash_mm")):
            lengths = _lengths(name, getattr(self, name), units)
            if lengths:
                changes[option] = lengths[0]
        sides = _lengths("size", _TIMES.sub(";", self.size), units)
        if len(sides) == 2:
            changes["wish_mm"] = sides
        elif sides:
            raise UsageError(f"'{self.size}' is not a size: write for instance '50 x 60 in'")
        return replace(default_options(units), **changes)


def read_form(ledger: Ledger) -> QuiltForm:
    """Return the form as it was last filled in."""
    try:
        return QuiltForm.from_dict(json.loads((ledger.home / "quilt.json").read_bytes()))
    except (OSError, ValueError, TypeError, AttributeError):
        return QuiltForm()


def write_form(ledger: Ledger, form: QuiltForm) -> None:
    """Keep the form.

    Raises
    ------
    FileError
        If it cannot be written.
    """
    write_whole(ledger.home / "quilt.json", json.dumps(asdict(form)).encode("ascii"))


def _checked(name: str, value: Any) -> Any:
    """Return a value of the form in the field's own type."""
    if name in _CHOICES:
        if value not in _CHOICES[name]:
            raise ValueError(f"not a choice of {name}")
    elif name == "fabrics":
        return _fabrics(value)
    elif name in ("rows", "columns", "seed"):
        most = _LAST_SEED if name == "seed" else _MOST_BLOCKS
        if type(value) is not int or not 0 <= value <= most:
            raise ValueError(f"{name}: write a whole number from 0 to {most}")
    elif not isinstance(value, str) or len(value) > _MOST_LETTERS:
        raise ValueError(f"{name} must be a short text")
    return value


def _fabrics(value: Any) -> tuple[tuple[str, str], ...]:
    """Read fabrics: names and colours."""
    if not isinstance(value, list) or len(value) > _MOST_FABRICS:
        raise ValueError(f"name up to {_MOST_FABRICS} fabrics")
    fabrics: list[tuple[str, str]] = []
    for pair in value:
        if not isinstance(pair, list) or [type(part) for part in pair] != [str, str]:
            raise ValueError("a fabric has a name and a colour")
        name, colour = pair
        parse_colour(colour)
        fabrics.append((name.strip()[:_MOST_LETTERS] or f"fabric {len(fabrics) + 1}", colour))
    return tuple(fabrics)


def _lengths(name: str, words: str, units: Units) -> tuple[Fraction, ...]:
    """Read lengths in the order given; a unit behind the last holds for those without."""
    parts = [part.strip() for part in words.split(";" if ";" in words else ",") if part.strip()]
    unit = _UNIT_AT_END.search(parts[-1]) if parts else None
    try:
        return tuple(
            parse_length(part if _UNIT_AT_END.search(part) or not unit else part + unit[0], units)
            for part in parts
        )
    except ValueError as error:
        raise UsageError(f"{name.capitalize()}: {error}") from error

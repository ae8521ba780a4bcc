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
from motiffit.quilt.beds import MATTRESSES, quilt_for_bed
from motiffit.quilt.colour import parse_colour
from motiffit.quilt.yardage import SHOPS
from motiffit.units import MM_PER_INCH, Units, format_length, parse_length, split_lengths

__all__ = ["PART_FABRICS", "QuiltForm", "read_form", "usual_words", "write_form"]

_CHOICES: dict[str, tuple[str, ...]] = {
    "scheme": ("halves", "one", "rounds", "sides", "own"),
    "turning": ("same", "furrows", "barn", "pinwheel"),
    "construction": ("log-cabin", "courthouse"),
    "first_side": ("top", "right", "bottom", "left"),
    "direction": ("clockwise", "counter-clockwise"),
    "pressing": ("side", "open"),
    "arrangement": ("spread", "rows", "outward"),
    "bed": ("", *MATTRESSES),
    "shop": ("", *SHOPS),
    "interfacing": ("oversize", "to-size", "none"),
    "paper": ("", "letter", "a4"),
}
_LENGTHS = {
    "block": "block_mm",
    "seam_take_up": "seam_take_up_mm",
    "sashing": "sash_mm",
    "cloth_width": "cloth_width_mm",
    "straightening": "straightening_mm",
    "interfacing_width": "interfacing_width_mm",
    "backing_width": "backing_width_mm",
    "binding_width": "binding_cut_mm",
}
"""Fields for one length, and the plan's options that they fill."""
PART_FABRICS = ("sash_fabric", "border_fabric", "binding_fabric", "plain_fabric")
"""Fields for the fabric of a part other than the strips, as the plan's options name them."""
_COUNTS = {"rows": 100, "columns": 100, "seed": 10**6}
_YES_NO = ("outer_sash", "corner_squares", "motifs_only")
_MOST_FABRICS, _MOST_LETTERS = 12, 80
_LONGEST_MM = 10_000  # no bed and no bolt is wider
_USUAL_DROP_MM = 12 * MM_PER_INCH
_SHARE = re.compile(r"\d{1,2}(\.\d{1,3})?")
_TIMES = re.compile(r"\s*[x\u00d7]\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class QuiltForm:
    """The form as it was filled in; empty where nothing was.

    Attributes
    ----------
    block, strips, seam_take_up, sashing, borders, cloth_width, straightening, interfacing_width, \
backing_width, binding_width
        Lengths, or several, in words.
    size
        Wished width and height in words.
    bed, drop
        A bed to cover instead, one of `motiffit.quilt.beds.MATTRESSES`, and how far the quilt hangs
        down in words.
    shrinkage
        In per cent, in words.
    rows, columns
        0 to have them chosen.
    scheme, turning, construction, first_side, pressing, arrangement, interfacing
        As in `motiffit.quilt.PlanOptions`.
    direction : {'clockwise', 'counter-clockwise'}
        Which way strips go round.
    outer_sash, corner_squares
        Whether there are such.
    motifs_only
        Whether to do without garments that have no motif.
    shop
        What the shop cuts; empty for what goes with the units.
    fabrics
        Name and colour of each fabric of the strips.
    sash_fabric, border_fabric, binding_fabric, plain_fabric
        Name and colour of other parts' fabrics; empty for the usual ones.
    paper
        What the sheets are printed on; empty for what goes with the units.
    seed
        Start of the layout's random choices.
    """

    block: str = ""
    strips: str = ""
    construction: str = "log-cabin"
    first_side: str = "top"
    direction: str = "clockwise"
    seam_take_up: str = ""
    pressing: str = "side"
    size: str = ""
    bed: str = ""
    drop: str = ""
    motifs_only: bool = False
    rows: int = 0
    columns: int = 0
    arrangement: str = "spread"
    sashing: str = ""
    outer_sash: bool = False
    borders: str = ""
    corner_squares: bool = False
    scheme: str = "halves"
    turning: str = "same"
    fabrics: tuple[tuple[str, str], ...] = ()
    sash_fabric: tuple[str, str] | tuple[()] = ()
    border_fabric: tuple[str, str] | tuple[()] = ()
    binding_fabric: tuple[str, str] | tuple[()] = ()
    plain_fabric: tuple[str, str] | tuple[()] = ()
    cloth_width: str = ""
    straightening: str = ""
    shrinkage: str = ""
    shop: str = ""
    interfacing: str = "oversize"
    interfacing_width: str = ""
    backing_width: str = ""
    binding_width: str = ""
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

    def to_options(self, units: Units, base: PlanOptions | None = None) -> PlanOptions:
        """Return the plan's options.

        Parameters
        ----------
        units
            Of lengths without a unit.
        base
            What holds where nothing was filled in; None for what is usual in the units.

        Raises
        ------
        UsageError
            For words that cannot be read, or wishes that contradict one another.
        """
        changes: dict[str, Any] = {
            "construction": self.construction,
            "first_side": self.first_side,
            "is_clockwise": self.direction == "clockwise",
            "pressing": self.pressing,
            "scheme": self.scheme,
            "turning": self.turning,
            "arrangement": self.arrangement,
            "rows": self.rows or None,
            "columns": self.columns or None,
            "has_outer_sash": self.outer_sash,
            "has_corner_squares": self.corner_squares,
            "interfacing": self.interfacing,
            "seed": self.seed,
            "fabrics": tuple(Fabric(name=name, colour=colour) for name, colour in self.fabrics),
            "strips_mm": _lengths("strips", self.strips, units),
            "borders_mm": _lengths("borders", self.borders, units),
            "wish_mm": self._wished_size(units),
        }
        for name, option in _LENGTHS.items():
            if words := getattr(self, name):
                changes[option] = _length(name, words, units)
        for name in PART_FABRICS:
            if part := getattr(self, name):
                changes[name] = Fabric(name=part[0], colour=part[1])
        if self.shop:
            changes["shop"] = self.shop
        if self.shrinkage:
            changes["shrinkage"] = _per_cent(self.shrinkage)
        return replace(base or default_options(units), **changes)

    def _wished_size(self, units: Units) -> tuple[Fraction, Fraction] | None:
        """Read the quilt's size, or work it out from the bed."""
        if self.bed and self.size:
            raise UsageError("Choose a bed or write a size, not both")
        if self.bed:
            drop = _length("drop", self.drop, units) if self.drop else _USUAL_DROP_MM
            return quilt_for_bed(self.bed, drop)
        sides = _lengths("size", _TIMES.sub(";", self.size), units)
        if sides and len(sides) != 2:
            raise UsageError(f"'{self.size}' is not a size: write for instance '50 x 60 in'")
        return (sides[0], sides[1]) if sides else None


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


def usual_words(units: Units) -> dict[str, str]:
    """Return what is taken where a length is left empty, for the fields to show."""
    options = default_options(units)
    shown = {name: format_length(getattr(options, option) or 0, units) for name, option in
             _LENGTHS.items()}  # fmt: skip
    return {
        **shown,
        "block": "largest size of the set",
        "sashing": "none",
        "seam_take_up": "none",
        "drop": format_length(_USUAL_DROP_MM, units),
        "shrinkage": f"{float(100 * options.shrinkage):g}",
        "size": "50 x 60 in" if units == "in" else "125 x 150 cm",
    }


def _checked(name: str, value: Any) -> Any:
    """Return a value of the form in the field's own type."""
    if name in _CHOICES:
        if value not in _CHOICES[name]:
            raise ValueError(f"not a choice of {name}")
    elif name == "fabrics":
        return _fabrics(value)
    elif name in PART_FABRICS:
        return _fabric(value, _label(name)) if value else ()
    elif name in _YES_NO:
        if type(value) is not bool:
            raise ValueError(f"{_label(name)} is yes or no")
    elif name in _COUNTS:
        if type(value) is not int or not 0 <= value <= _COUNTS[name]:
            raise ValueError(f"{name}: write a whole number from 0 to {_COUNTS[name]}")
    elif not isinstance(value, str) or len(value) > _MOST_LETTERS:
        raise ValueError(f"{_label(name)} must be a short text")
    return value


def _fabrics(value: Any) -> tuple[tuple[str, str], ...]:
    """Read the fabrics of the strips."""
    if not isinstance(value, list) or len(value) > _MOST_FABRICS:
        raise ValueError(f"name up to {_MOST_FABRICS} fabrics")
    return tuple(_fabric(pair, f"fabric {number}") for number, pair in enumerate(value, start=1))


def _fabric(value: Any, usual_name: str) -> tuple[str, str]:
    """Read a fabric: its name and its colour."""
    if not isinstance(value, list) or [type(part) for part in value] != [str, str]:
        raise ValueError("a fabric has a name and a colour")
    name, colour = value
    parse_colour(colour)
    return name.strip()[:_MOST_LETTERS] or usual_name, colour


def _length(name: str, words: str, units: Units) -> Fraction:
    """Read one length."""
    try:
        length = parse_length(words, units)
    except ValueError as error:
        raise UsageError(f"{_label(name).capitalize()}: {error}") from error
    if length > _LONGEST_MM:
        raise UsageError(f"{_label(name).capitalize()}: '{words}' is far too long")
    return length


def _lengths(name: str, words: str, units: Units) -> tuple[Fraction, ...]:
    """Read lengths in the order given; a unit behind the last holds for those without."""
    return tuple(_length(name, part, units) for part in split_lengths(words))


def _per_cent(words: str) -> Fraction:
    """Read a share in per cent."""
    number = words.removesuffix("%").strip().replace(",", ".")
    if not _SHARE.fullmatch(number):
        raise UsageError(f"Shrinkage: '{words}' is not a number of per cent, such as 3")
    return Fraction(number) / 100


def _label(name: str) -> str:
    """Return a field's name as a person reads it."""
    return name.replace("_", " ")

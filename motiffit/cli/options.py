"""Options that several commands share, and how their words are read."""

import os
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal, TypeVar

import typer

from motiffit.cli.terminal import clean_name, fail, tell_aside
from motiffit.errors import UsageError
from motiffit.record import Point
from motiffit.settings import Settings, Turn
from motiffit.units import (
    METRIC_SIZES_MM,
    Units,
    format_side,
    parse_length,
    parse_sizes,
)

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

__all__ = [
    "Clearance",
    "Jobs",
    "JsonLines",
    "LeaveOut",
    "Paper",
    "PileClearance",
    "PileSeamAllowance",
    "PileSide",
    "PileSizes",
    "PileTurn",
    "PileUnits",
    "SeamAllowance",
    "Separator",
    "Side",
    "SizedFolder",
    "Sizes",
    "TurnChoice",
    "UnitsChoice",
    "check_photos",
    "check_target",
    "in_units",
    "json_option",
    "length_option",
    "make_settings",
    "quiet_option",
    "read_length",
    "read_outline",
    "read_point",
    "unlike",
    "usual_settings",
]

Asked = TypeVar("Asked", bound="DataclassInstance")

# Metric quilters take 7.5 mm because twice that is a whole 15 mm (lonesockproductions.blogspot.com,
# 2010): then every cut size falls on a mark of the ruler.
_USUAL: dict[Units, Settings] = {
    "in": Settings(),
    "cm": Settings(units="cm", sizes_mm=tuple(map(float, METRIC_SIZES_MM)), seam_allowance_mm=7.5),
}

# what is asked of photos: how its words are called, what it is, and what is usual
_ASKED: dict[str, tuple[str | None, str, str]] = {
    "--units": (None, "Units of answers, and of lengths given without a unit.", "in"),
    "--sizes": (
        "SIZES",
        'Finished sizes to choose from, such as "3, 4, 5 1/2 in".',
        "3 to 9 in, or 7.5 to 22.5 cm with --units cm",
    ),
    "--seam-allowance": (
        "LENGTH",
        "Cloth beyond the seam line.",
        "1/4 in, or 0.75 cm with --units cm",
    ),
    "--clearance": ("LENGTH", "Least distance from the motif to the seam line.", "1/8 in"),
    "--side": (
        "LENGTH|card",
        "Side of the reference square: for a plain square, or a card printed at another scale, "
        'such as "3 7/8 in"; card: as the code on the card says.',
        "card",
    ),
    "--turn": (None, "What the sides of the square follow.", "grain"),
}


def _asked_option(option: str, *, is_kept: bool = False) -> Any:
    """Make an option for what is asked of photos; what a pile was asked before is kept."""
    metavar, help, usual = _ASKED[option]
    default = f"as before; at first: {usual}" if is_kept else usual
    words = f"{help}  [default: {default}]"
    return typer.Option(option, metavar=metavar, help=words, show_default=False)


UnitsChoice = Annotated[Literal["in", "cm"], _asked_option("--units")]
Sizes = Annotated[str | None, _asked_option("--sizes")]
SeamAllowance = Annotated[str | None, _asked_option("--seam-allowance")]
Clearance = Annotated[str | None, _asked_option("--clearance")]
Side = Annotated[str | None, _asked_option("--side")]
TurnChoice = Annotated[Literal["grain", "motif"] | None, _asked_option("--turn")]
# the same for a pile, which keeps to what it was asked before
PileUnits = Annotated[Literal["in", "cm"] | None, _asked_option("--units", is_kept=True)]
PileSizes = Annotated[str | None, _asked_option("--sizes", is_kept=True)]
PileSeamAllowance = Annotated[str | None, _asked_option("--seam-allowance", is_kept=True)]
PileClearance = Annotated[str | None, _asked_option("--clearance", is_kept=True)]
PileSide = Annotated[str | None, _asked_option("--side", is_kept=True)]
PileTurn = Annotated[Literal["grain", "motif"] | None, _asked_option("--turn", is_kept=True)]
SizedFolder = Annotated[
    Path, typer.Argument(metavar="FOLDER", help="The pile: sized with 'motiffit pile' before.")
]
Separator = Annotated[
    str | None,
    typer.Option(
        "--separator",
        metavar="SIGN",
        help="Names that agree up to the last SIGN are photos of one garment.  "
        "[default: names that differ in front, back, again, ...]",
        show_default=False,
    ),
]
LeaveOut = Annotated[
    list[str] | None,
    typer.Option(
        "--leave-out",
        metavar="NAME",
        help="Do without this garment or photo; as often as you like.",
    ),
]
Paper = Annotated[
    Literal["letter", "a4"] | None,
    typer.Option(
        "--paper",
        help="Paper to print on.  [default: letter, or a4 with centimetres]",
        show_default=False,
    ),
]
Jobs = Annotated[
    int | None,
    typer.Option(
        "--jobs",
        "-j",
        metavar="N",
        min=1,
        max=256,
        help="Photos to work on at the same time.  [default: one per core]",
        show_default=False,
    ),
]
JsonLines = Annotated[
    bool, typer.Option("--json", help="Print one JSON document per photo and nothing else.")
]


def length_option(option: str, help: str) -> Any:
    """Make an option that takes a length."""
    return typer.Option(option, metavar="LENGTH", help=help, show_default=False)


def quiet_option(help: str) -> Any:
    """Make the option that keeps a command short; what is left differs."""
    return typer.Option("--quiet", "-q", help=help)


def json_option(help: str) -> Any:
    """Make the option that asks for one document for programs."""
    return typer.Option("--json", help=help)


def read_length(option: str, text: str, units: Units) -> float:
    """Read the length given with an option, in mm."""
    try:
        return float(parse_length(text, units))
    except OverflowError as error:
        raise typer.BadParameter("the length is far too large", param_hint=option) from error
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint=option) from error


def read_point(option: str, text: str) -> Point:
    """Read a point of the photo such as ``620,420``."""
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError as error:
        raise typer.BadParameter(
            f"'{text}' is not a point: write its pixels from the left and from the top, "
            "such as 620,420",
            param_hint=option,
        ) from error
    if not (abs(x) < 1e6 and abs(y) < 1e6):
        raise typer.BadParameter(f"'{text}' lies in no photo", param_hint=option)
    return x, y


def read_outline(option: str, text: str) -> tuple[Point, ...]:
    """Read points such as ``620,420 980,760``."""
    points = tuple(read_point(option, part) for part in text.split())
    if len(points) < 2:
        raise typer.BadParameter(
            "an outline needs two points (a box) or more (a polygon), such as '620,420 980,760'",
            param_hint=option,
        )
    return points


def usual_settings(units: Units) -> Settings:
    """Return what is asked of a photo where nothing else is said."""
    return _USUAL[units]


def in_units(asked: Settings, units: Units) -> Settings:
    """Return settings in units: what was usual in their own becomes what is usual in these."""
    return replace(usual_settings(units), **unlike(asked, usual_settings(asked.units)))


def unlike(one: Asked, usual: Asked) -> dict[str, Any]:
    """Return the fields of a dataclass, by their names, that are not as usual."""
    values = {field.name: getattr(one, field.name) for field in fields(one)}
    return {name: value for name, value in values.items() if value != getattr(usual, name)}


def make_settings(
    base: Settings,
    *,
    sizes: str | None = None,
    seam_allowance: str | None = None,
    clearance: str | None = None,
    side: str | None = None,
    turn: Turn | None = None,
    outline: str | None = None,
    near: str | None = None,
    pick: int | None = None,
    no_motif: bool = False,
) -> Settings:
    """Build the settings from the words of the command line; what is not said is as in ``base``."""
    units = base.units
    said: dict[str, Any] = {}
    if sizes is not None:
        said["sizes_mm"] = _read_sizes(sizes, units)
    if seam_allowance is not None:
        said["seam_allowance_mm"] = read_length("--seam-allowance", seam_allowance, units)
    if clearance is not None:
        said["clearance_mm"] = read_length("--clearance", clearance, units)
    if side is not None:
        said["side_mm"] = _read_side(side, units)
    if turn is not None:
        said["turn"] = turn
    try:
        return replace(
            base,
            **said,
            outline_px=() if outline is None else read_outline("--outline", outline),
            near_px=None if near is None else read_point("--near", near),
            pick=pick,
            no_motif=no_motif,
        )
    except UsageError as error:
        raise typer.BadParameter(str(error)) from error


def check_photos(photos: list[Path]) -> None:
    """Stop before the work begins where a folder stands for a photo."""
    for photo in photos:
        if photo.is_dir():
            raise typer.BadParameter(
                clean_name(
                    f"'{photo}' is a folder: name the photos in it, as in {photo / '*.jpg'}"
                ),
                param_hint="PHOTO",
            )


def check_target(path: Path, *, is_own: Callable[[Path], bool]) -> None:
    """Stop before the work begins where a file cannot be written or would replace another's.

    Parameters
    ----------
    path
        The file to be written.
    is_own
        Tells whether an existing file was made by this program and may be replaced.
    """
    if not path.parent.is_dir():
        fail(f"cannot write {path}: there is no folder {path.parent}")
    if not os.access(path.parent, os.W_OK):
        fail(f"cannot write {path}: the folder {path.parent} may not be written to")
    if path.exists() and not is_own(path):
        fail(f"{path} exists and was not made by motiffit: choose another name")


def _read_side(text: str, units: Units) -> float | None:
    """Read the reference square's side, and say in which unit where none was given."""
    if text.strip().casefold() == "card":
        return None
    side_mm = read_length("--side", text, units)
    if text.strip()[-1].isdigit():
        tell_aside(f"--side {text} is taken as {format_side(side_mm, units)}")
    return side_mm


def _read_sizes(text: str, units: Units) -> tuple[float, ...]:
    """Read the size set."""
    try:
        return tuple(float(size) for size in parse_sizes(text, units))
    except OverflowError as error:
        raise typer.BadParameter("a size is far too large", param_hint="--sizes") from error
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--sizes") from error

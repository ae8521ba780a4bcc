"""``motiffit size``: photos in, squares out."""

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from motiffit.cli.options import (
    Clearance,
    JsonLines,
    SeamAllowance,
    Side,
    Sizes,
    TurnChoice,
    UnitsChoice,
    check_photos,
    check_target,
    make_settings,
    quiet_option,
    usual_settings,
)
from motiffit.cli.terminal import Progress, clean_name, screen_width, tell, write_json
from motiffit.errors import ExitStatus, FileError, MotiffitError, Refusal
from motiffit.record import Sizing, make_message, refused_sizing

__all__ = ["SIZE_EPILOG", "size"]

SIZE_EPILOG = """\
\b
Examples:
  motiffit size photo.jpg
  motiffit size photo.jpg --overlay window.png
  motiffit size photo.jpg bib.jpg --overlays pictures
  motiffit size photo.jpg --side "3 7/8 in" --sizes "4, 6, 8 in"
  motiffit size photo.jpg --units cm --sizes "8, 10, 12" --seam-allowance 0.75
  motiffit size photo.jpg --outline "620,420 980,760"
  motiffit size photo.jpg bib.jpg --json > sizes.jsonl

\b
Exit status:
  0  every photo gave a square, or has no motif
  1  at least one photo could not be measured
  2  wrong usage
"""


def size(
    photos: Annotated[
        list[Path],
        typer.Argument(
            metavar="PHOTO", help="Photos of one garment each, with a reference square."
        ),
    ],
    overlay: Annotated[
        Path | None,
        typer.Option(
            "--overlay",
            metavar="FILE",
            help="Draw the square into a copy of the photo (PNG or JPEG).",
        ),
    ] = None,
    overlays: Annotated[
        Path | None,
        typer.Option(
            "--overlays", metavar="FOLDER", help="The same for each of many, into a folder."
        ),
    ] = None,
    json: JsonLines = False,
    units: UnitsChoice = "in",
    sizes: Sizes = None,
    seam_allowance: SeamAllowance = None,
    clearance: Clearance = None,
    side: Side = None,
    turn: TurnChoice = None,
    outline: Annotated[
        str | None,
        typer.Option(
            "--outline",
            metavar='"X,Y X,Y ..."',
            help="Your own outline of the motif in pixels of the photo: two points are opposite "
            "corners of a box, more are a polygon.",
        ),
    ] = None,
    near: Annotated[
        str | None,
        typer.Option("--near", metavar="X,Y", help="Take the motif nearest to this pixel."),
    ] = None,
    pick: Annotated[
        int | None,
        typer.Option(
            "--pick", metavar="N", help="Take the motif of this number, as in the picture."
        ),
    ] = None,
    no_motif: Annotated[
        bool, typer.Option("--no-motif", help="There is no motif: the largest square will do.")
    ] = False,
    quiet: Annotated[bool, quiet_option("Only the sizes, one line per photo.")] = False,
    verbose: Annotated[
        bool, typer.Option("--verbose", "-v", help="Tell also how it was measured.")
    ] = False,
) -> None:
    """Find the smallest standard square that holds a garment's motif.

    Lay the printed card (see 'motiffit card') flat beside the garment and take the photo from
    straight above. Nothing is written unless you ask for a picture.
    """
    settings = make_settings(
        usual_settings(units),
        sizes=sizes,
        seam_allowance=seam_allowance,
        clearance=clearance,
        side=side,
        turn=turn,
        outline=outline,
        near=near,
        pick=pick,
        no_motif=no_motif,
    )
    check_photos(photos)
    if len(photos) > 1 and (outline or near):
        raise typer.BadParameter("--outline and --near belong to one photo: give just that one")
    pictures = _picture_paths(photos, overlay, overlays)
    # imported here because OpenCV alone takes longer to start than the help takes to print
    from motiffit.sizing import size_photo

    progress = Progress(len(photos), wanted=not quiet)
    sizings = []
    drawn = 0
    for number, photo in enumerate(photos, start=1):
        progress.show(number, photo.name)
        try:
            sizing = size_photo(photo, settings)
            if pictures:
                drawn += _write_picture(photo, pictures[number - 1], sizing)
        except MotiffitError:
            raise
        except Exception as error:  # a fault of ours must not lose the other photos' sizes
            reason = f"{type(error).__name__}: {error}"[:200]
            sizing = refused_sizing(photo, settings, make_message("program-fault", reason=reason))
        sizings.append(sizing)
        progress.clear()
        if json:
            write_json(sizing)
        else:
            _tell_one(sizing, alone=len(photos) == 1, quiet=quiet, verbose=verbose)
    if len(photos) > 1 and not json and not quiet:
        _tell_all(sizings)
    if overlays and drawn and not json and not quiet:
        typer.echo(f"\nPictures with the squares: {clean_name(str(overlays))}")
    if any(sizing.outcome == "refused" for sizing in sizings):
        raise typer.Exit(ExitStatus.REFUSED)


def _tell_one(sizing: Sizing, *, alone: bool, quiet: bool, verbose: bool) -> None:
    """Print the answer for one photo: a screen when it is the only one, else a few lines."""
    from motiffit.show.table import brief_text, headline, how_text, sizing_text  # for start-up

    name, width = clean_name(sizing.photo), screen_width()
    if quiet:
        text = headline(sizing) if alone else f"{name}: {headline(sizing)}"
    else:
        text = (
            sizing_text(sizing, width=width)
            if alone
            else brief_text(sizing, name=name, width=width)
        )
    tell(text, sizing)
    if verbose and (how := how_text(sizing, width=width)):
        typer.echo(f"\n{how}" if alone else how)


def _tell_all(sizings: Sequence[Sizing]) -> None:
    """Print what holds for all photos together."""
    from motiffit.show.table import cautions_text, summary_text  # for start-up

    typer.echo(f"\n{summary_text(sizings)}")
    if cautions := cautions_text(sizings, width=screen_width()):
        typer.echo(f"\n{cautions}")


def _picture_paths(photos: list[Path], overlay: Path | None, overlays: Path | None) -> list[Path]:
    """Return where each photo's picture goes, tried before the work begins; empty for nowhere."""
    if overlay is None and overlays is None:
        return []
    if overlay is not None and overlays is not None:
        raise typer.BadParameter("give --overlay or --overlays, not both")
    if overlay is not None and len(photos) > 1:
        raise typer.BadParameter(
            "one file cannot hold the pictures of several photos: name a folder with --overlays",
            param_hint="--overlay",
        )
    paths = [overlay] if overlay is not None else _names_in(overlays or Path(), photos)
    from motiffit.show.picture_file import PICTURE_SUFFIXES, is_own_picture  # for start-up

    for path in paths:
        if path.suffix.lower() not in PICTURE_SUFFIXES:
            raise typer.BadParameter(f"'{path}' must end in .png or .jpg", param_hint="--overlay")
        check_target(path, is_own=is_own_picture)
    return paths


def _names_in(folder: Path, photos: list[Path]) -> list[Path]:
    """Make the folder, and a name in it for each photo, no two alike."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise FileError(f"cannot make the folder {folder}: {error.strerror}") from error
    taken: set[str] = set()  # folded: many disks take a.jpg and A.jpg for one file
    paths = []
    for photo in photos:
        name, number = f"{photo.stem}-window.jpg", 1
        while name.casefold() in taken:
            number += 1
            name = f"{photo.stem}-window-{number}.jpg"
        taken.add(name.casefold())
        paths.append(folder / name)
    return paths


def _write_picture(photo: Path, target: Path, sizing: Sizing) -> bool:
    """Draw a record over its photo and write it; tell whether there is a picture now."""
    from motiffit.files import write_whole  # these four for start-up
    from motiffit.measure.photo import read_photo
    from motiffit.show.overlay import draw_overlay
    from motiffit.show.picture_file import encode_picture

    try:
        source = read_photo(photo)
    except Refusal:
        typer.echo(f"motiffit: no picture of {clean_name(str(photo))}: it cannot be read", err=True)
        return False
    drawing = draw_overlay(source.picture, source.full_per_px, sizing)
    write_whole(target, encode_picture(drawing, target.suffix.lower()))
    return True

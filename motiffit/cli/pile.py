"""``motiffit pile``: a folder of photos in, one page and one table out."""

from pathlib import Path
from typing import Annotated

import typer

from motiffit.cli.options import (
    Jobs,
    JsonLines,
    PileClearance,
    PileSeamAllowance,
    PileSide,
    PileSizes,
    PileTurn,
    PileUnits,
    Separator,
    in_units,
    make_settings,
    quiet_option,
)
from motiffit.cli.terminal import tell_aside

__all__ = ["PILE_EPILOG", "pile"]

PILE_EPILOG = """\
\b
Examples:
  motiffit pile photos
  motiffit pile photos --sizes "3, 6, 9 in" --jobs 4
  motiffit pile photos --watch
  motiffit pile photos --json > pile.jsonl

\b
Exit status:
    0  every photo gave a square, or has no motif
    1  at least one photo could not be measured
    2  wrong usage, or the folder cannot be written
  130  stopped by Ctrl-C; the same command goes on from there
"""


def pile(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="Where the photos are, one garment each.")
    ],
    units: PileUnits = None,
    sizes: PileSizes = None,
    seam_allowance: PileSeamAllowance = None,
    clearance: PileClearance = None,
    side: PileSide = None,
    turn: PileTurn = None,
    jobs: Jobs = None,
    watch: Annotated[
        bool, typer.Option("--watch", help="Go on sizing photos as they arrive, until Ctrl-C.")
    ] = False,
    separator: Separator = None,
    scheduler: Annotated[
        str | None,
        typer.Option(
            "--scheduler",
            metavar="ADDRESS",
            help="Work on the Dask cluster of this scheduler, such as tcp://workshop:8786.",
        ),
    ] = None,
    json: JsonLines = False,
    quiet: Annotated[bool, quiet_option("Only the counts; no progress.")] = False,
) -> None:
    """Size every photo of a folder, and show what to do next.

    Everything goes into the folder 'motiffit' inside FOLDER: the page index.html, the table
    pile.csv, a picture and a record for each photo. A second run sizes only what is new or changed,
    and asks what was asked before where no option says otherwise.

    A table garments.csv in FOLDER (columns photo, garment, note, keep) says which photos show the
    same garment, what to mind (zip, snaps, 3D, vinyl), and which photo to use.
    """  # fmt: skip
    # imported here because they take longer to start than the help takes to print
    from motiffit.cli.pile_asked import asked_before, kept_words
    from motiffit.cli.pile_run import run_pile

    before = asked_before(folder)
    base = in_units(before, units or before.units)
    settings = make_settings(
        base,
        sizes=sizes,
        seam_allowance=seam_allowance,
        clearance=clearance,
        side=side,
        turn=turn,
    )
    if scheduler and jobs:
        raise typer.BadParameter("the cluster has its own --jobs: give --scheduler or --jobs")
    said = {
        "units": units,
        "sizes_mm": sizes,
        "seam_allowance_mm": seam_allowance,
        "clearance_mm": clearance,
        "side_mm": side,
        "turn": turn,
    }
    if not quiet and (kept := kept_words(base, said)):
        tell_aside(f"as this pile was asked before: {kept}")
    run_pile(
        folder,
        settings,
        jobs=jobs,
        scheduler=scheduler,
        separator=separator,
        watch=watch,
        output="json" if json else "brief" if quiet else "full",
    )

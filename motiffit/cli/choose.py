"""``motiffit choose``: which size set suits the whole pile."""

from typing import Annotated

import typer

from motiffit.cli.options import (
    LeaveOut,
    Separator,
    SizedFolder,
    UnitsChoice,
    json_option,
    length_option,
)

__all__ = ["CHOOSE_EPILOG", "choose"]

CHOOSE_EPILOG = """\
\b
Examples:
  motiffit choose photos
  motiffit choose photos --sizes "4, 6, 8 in" --sizes "5, 7 in"
  motiffit choose photos --leave-out IMG_2
  motiffit choose photos --all-garments
  motiffit choose photos --units cm --step 2
"""


def choose(
    folder: SizedFolder,
    sizes: Annotated[
        list[str] | None,
        typer.Option(
            "--sizes",
            metavar="SIZES",
            help='A set of your own to compare, such as "4, 6, 8 in"; as often as you like.',
        ),
    ] = None,
    leave_out: LeaveOut = None,
    all_garments: Annotated[
        bool,
        typer.Option(
            "--all-garments", help="Propose for all, those with by far the largest motifs too."
        ),
    ] = False,
    step: Annotated[
        str | None,
        length_option(
            "--step",
            "The best set is put together from multiples of this.  "
            "[default: 1/2 in, or 1 cm with --units cm]",
        ),
    ] = None,
    units: UnitsChoice = "in",
    separator: Separator = None,
    json: Annotated[bool, json_option("Print one JSON document.")] = False,
) -> None:
    """Compare size sets, and find the fewest that suit the pile.

    Nothing is measured and nothing is written: the records of 'motiffit pile' tell all. The set
    proposed holds every motif, with as few extension pieces as any set, and no set of fewer sizes
    does that. A few motifs so large that they alone would make it much larger are left out of the
    proposal and named; '--all-garments' takes them in.
    """
    # imported here because it takes longer to start than the help takes to print
    from motiffit.cli.choose_run import run_choose

    run_choose(
        folder,
        sizes or [],
        step,
        units=units,
        separator=separator,
        leave_out=leave_out or [],
        all_garments=all_garments,
        json=json,
    )

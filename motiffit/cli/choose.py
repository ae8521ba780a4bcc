"""``motiffit choose``: which size set suits the whole pile."""

from pathlib import Path
from typing import Annotated

import typer

from motiffit.cli.options import UnitsChoice

__all__ = ["CHOOSE_EPILOG", "choose"]

CHOOSE_EPILOG = """\
\b
Examples:
  motiffit choose photos
  motiffit choose photos --sizes "4, 6, 8 in" --sizes "5, 7 in"
  motiffit choose photos --units cm --step 2
"""


def choose(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A folder that 'motiffit pile' has sized.")
    ],
    sizes: Annotated[
        list[str] | None,
        typer.Option(
            "--sizes",
            metavar="SIZES",
            help='A set of your own to compare, such as "4, 6, 8 in"; as often as you like.',
        ),
    ] = None,
    step: Annotated[
        str | None,
        typer.Option(
            "--step",
            metavar="LENGTH",
            help="The best set is put together from multiples of this.  "
            "[default: 1/2 in, or 1 cm with --units cm]",
            show_default=False,
        ),
    ] = None,
    units: UnitsChoice = "in",
    separator: Annotated[
        str | None,
        typer.Option(
            "--separator", metavar="SIGN", help="What parts garment and view, as for 'pile'."
        ),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print one JSON document.")] = False,
) -> None:
    """Compare size sets for a pile, and find the fewest sizes that hold every motif.

    Nothing is measured and nothing is written: the records of 'motiffit pile' tell all. The set
    proposed is the best there is, not a guess: no set of fewer sizes holds every motif with as few
    extension pieces.
    """
    # imported here because it takes longer to start than the help takes to print
    from motiffit.cli.choose_run import run_choose

    run_choose(folder, sizes or [], step, units=units, separator=separator, json=json)

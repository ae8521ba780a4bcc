"""``motiffit card``: the reference card to print."""

from fractions import Fraction
from pathlib import Path
from typing import Annotated

import typer

from motiffit.cli.options import Paper, UnitsChoice, check_target
from motiffit.cli.terminal import clean_name, tell_aside
from motiffit.errors import UsageError
from motiffit.units import MM_PER_INCH, Units, format_side, parse_length

__all__ = ["CARD_EPILOG", "card"]

CARD_EPILOG = """\
\b
Examples:
  motiffit card
  motiffit card card.pdf --paper a4 --units cm
  motiffit card card.pdf --side "3 in"
"""

_USUAL_SIDE_MM: dict[Units, Fraction] = {"in": 4 * MM_PER_INCH, "cm": Fraction(100)}


def card(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The PDF to write.")] = Path(
        "motiffit-card.pdf"
    ),
    side: Annotated[
        str | None,
        typer.Option(
            "--side",
            metavar="LENGTH",
            help="Side of the black square, in whole millimetres or sixteenths of an inch.  "
            "[default: 4 in, or 10 cm with --units cm]",
            show_default=False,
        ),
    ] = None,
    paper: Paper = None,
    units: UnitsChoice = "in",
) -> None:
    """Write the reference card as a PDF at true scale.

    Print it at 100 %, measure the black square, cut it out with its white margin, and lay it
    beside each garment.
    """
    try:
        side_mm = _USUAL_SIDE_MM[units] if side is None else parse_length(side, units)
    except ValueError as error:
        raise typer.BadParameter(str(error), param_hint="--side") from error
    if file.suffix.lower() != ".pdf":
        raise typer.BadParameter(f"'{file}' must end in .pdf", param_hint="FILE")
    check_target(file, is_own=_is_card)
    # imported here because drawing takes longer to start than the help takes to print
    from motiffit.files import write_whole
    from motiffit.measure.plausible import is_usual_side
    from motiffit.show.pdf import usual_paper
    from motiffit.show.sheets import card_pdf

    paper = paper or usual_paper(units)
    try:
        pdf = card_pdf(side_mm, paper=paper, units=units)
    except UsageError as error:
        raise typer.BadParameter(str(error), param_hint="--side") from error
    write_whole(file, pdf)
    length = format_side(side_mm, units)
    typer.echo(
        f"Wrote {clean_name(str(file))}: a card of {length} for {paper} paper.\n"
        f"Print it at 100 % and measure the black square: each side must be {length}."
    )
    if not is_usual_side(side_mm):
        tell_aside(
            "Few cards have such a side, so its photos will be marked for a look. With --side "
            f'"{length}" they are not; nor is a card in steps of 5 mm or 1/4 in.'
        )


def _is_card(file: Path) -> bool:
    """Tell whether an existing file is a card of ours, by the mark that `card_pdf` leaves."""
    from motiffit.show.sheets import CARD_MARK  # for start-up

    try:
        return file.is_file() and f"/Subject ({CARD_MARK})".encode() in file.read_bytes()
    except OSError:
        return False

"""The command line: which commands there are, and how an error ends one.

A command is one function in a module of its own and one line below. Results go to stdout,
everything else to stderr.
"""

import sys
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated

import typer

from motiffit.cli.card import CARD_EPILOG, card
from motiffit.cli.choose import CHOOSE_EPILOG, choose
from motiffit.cli.pile import PILE_EPILOG, pile
from motiffit.cli.plan import PLAN_EPILOG, plan
from motiffit.cli.review import REVIEW_EPILOG, review
from motiffit.cli.size import SIZE_EPILOG, size
from motiffit.cli.terminal import clean_name
from motiffit.errors import ExitStatus, MotiffitError

__all__ = ["app", "main"]

app = typer.Typer(
    name="motiffit",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    # plain help: faster to start, and the same on every terminal
    rich_markup_mode=None,
    context_settings={"help_option_names": ["--help", "-h"]},
)
app.command(epilog=SIZE_EPILOG)(size)
app.command(epilog=PILE_EPILOG)(pile)
app.command(epilog=CHOOSE_EPILOG)(choose)
app.command(epilog=PLAN_EPILOG)(plan)
app.command(epilog=REVIEW_EPILOG)(review)
app.command(epilog=CARD_EPILOG)(card)


def main() -> None:
    """Run the command line and end the program with its exit status."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")  # a name that the screen cannot show stops nothing
    try:
        _stop_at_dashed_file(sys.argv[1:])
        app()
    except MotiffitError as error:
        typer.echo(f"motiffit: {clean_name(str(error))}", err=True)
        sys.exit(ExitStatus.USAGE)


def _stop_at_dashed_file(words: list[str]) -> None:
    """Explain how to name a file that begins with a dash, which looks like an option."""
    options = words[: words.index("--")] if "--" in words else words
    for word in options:
        if len(word) > 1 and word.startswith("-") and Path(word).exists():
            raise MotiffitError(f"'{word}' reads as an option: name the file as './{word}'")


def _print_version(wanted: bool) -> None:
    """Print the version and end."""
    if wanted:
        # imported here because it costs a quarter of the start-up
        from importlib.metadata import version

        typer.echo(f"motiffit {version('motiffit')}")
        raise typer.Exit


@app.callback()
def _common(
    _: Annotated[
        bool,
        typer.Option(
            "--version", help="Print the version.", callback=_print_version, is_eager=True
        ),
    ] = False,
) -> None:
    """Size the centres of log cabin blocks from photos of outgrown garments.

    Print the card once ('motiffit card'), lay it beside a garment, take a photo from straight
    above, and ask for the square to cut ('motiffit size photo.jpg').
    """

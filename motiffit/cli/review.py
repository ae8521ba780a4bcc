"""``motiffit review``: the page on which a pile is looked through."""

from pathlib import Path
from typing import Annotated

import typer

from motiffit.cli.options import (
    Clearance,
    SeamAllowance,
    Side,
    Sizes,
    TurnChoice,
    UnitsChoice,
    make_settings,
    usual_settings,
)
from motiffit.cli.terminal import clean_name, fail

__all__ = ["REVIEW_EPILOG", "review"]

REVIEW_EPILOG = """\
\b
Examples:
  motiffit review
  motiffit review photos --units cm
  motiffit review photos --lan
"""


def review(
    folder: Annotated[
        Path, typer.Argument(metavar="[FOLDER]", help="The folder of photos; this one if not said.")
    ] = Path(),
    lan: Annotated[
        bool,
        typer.Option(
            "--lan",
            help="Let phones on this network take part: prints a link and a code to scan. Whoever "
            "has the link can see the photos.",
        ),
    ] = False,
    port: Annotated[
        int | None,
        typer.Option(
            "--port",
            min=0,
            max=65535,
            help="Port to serve at, 0 for any.  [default: 8479 or the next that is free]",
            show_default=False,
        ),
    ] = None,
    browser: Annotated[
        bool, typer.Option("--browser/--no-browser", help="Open the page in the browser.")
    ] = True,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs",
            min=1,
            help="Photos measured at the same time.  [default: one per core, at most 4]",
            show_default=False,
        ),
    ] = None,
    units: UnitsChoice = "in",
    sizes: Sizes = None,
    seam_allowance: SeamAllowance = None,
    clearance: Clearance = None,
    side: Side = None,
    turn: TurnChoice = None,
) -> None:
    """Look through a pile in the browser: correct, accept, plan.

    The page is served from this computer to this computer and contacts nothing else. Settings given
    here are for a new pile; one that was sized before keeps its own.
    """
    try:
        from motiffit.review.running import Started, serve_review  # for start-up
    except ModuleNotFoundError as error:
        fail(
            f"the page needs {error.name}: install it with pip install '.[review]' in the "
            "program's own folder"
        )
    from motiffit.ledger import Ledger  # these three for start-up
    from motiffit.pile import pile_settings
    from motiffit.runners import available_cores

    ledger = Ledger.open(folder)
    settings = pile_settings(ledger) or make_settings(
        usual_settings(units),
        sizes=sizes,
        seam_allowance=seam_allowance,
        clearance=clearance,
        side=side,
        turn=turn,
    )

    def ready(started: Started) -> None:
        typer.echo(f"The pile of {clean_name(str(folder.resolve()))} is served at")
        typer.echo(f"\n  {started.link}\n")
        typer.echo("The link works once, for one browser. End with Ctrl-C.")
        if started.phone_link is not None:
            typer.echo(
                "\nFor a phone on the same network, scan this or type the link. Anyone who has it "
                "on this network can see the photos:"
            )
            typer.echo(f"\n{started.phone_code}\n  {started.phone_link}\n")
        if browser:
            typer.launch(started.link)

    serve_review(
        ledger,
        settings,
        port=port,
        lan=lan,
        hands=jobs or min(available_cores(), 4),
        ready=ready,
    )

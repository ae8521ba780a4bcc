"""One planning of a pile: records in, the plan's files out."""

import json
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Literal

import typer

from motiffit.cli.plan_asked import form_words, without_typed
from motiffit.cli.plan_options import Wishes, make_options
from motiffit.cli.terminal import clean_name, hold_stdout, screen_width, tell_aside
from motiffit.cli.unsized import tell_unsized
from motiffit.errors import UsageError
from motiffit.garments import heed_table, table_news
from motiffit.ledger import Ledger
from motiffit.pile import pile_rows
from motiffit.planning import plan_pile, write_plan
from motiffit.quilt import default_options
from motiffit.review.form import QuiltForm, read_form
from motiffit.show.pdf import Paper, usual_paper
from motiffit.show.plan_text import plan_text
from motiffit.show.rows import Row, do_without
from motiffit.units import Units

__all__ = ["Output", "run_plan"]

Output = Literal["full", "brief", "json"]


def run_plan(
    folder: Path,
    wishes: Wishes,
    *,
    typed: Collection[str],
    units: Units | None,
    paper: Paper | None,
    separator: str | None,
    leave_out: Sequence[str],
    motifs_only: bool,
    output: Output,
) -> None:
    """Plan a pile, write the files and tell of it.

    Parameters
    ----------
    folder
        Where the photos are.
    wishes
        What was typed of the quilt.
    typed
        Names of all parameters that were given; for the others the review page's wishes hold.
    units
        Of what is shown and read; None for those of the pile.
    paper
        Of the sheets; None for the usual one.
    separator
        As for `motiffit.garments.garment_name`.
    leave_out
        Names of garments or photos to do without.
    motifs_only
        Whether to do without garments that have no motif.
    output : {'full', 'brief', 'json'}
        What goes to stdout.

    Raises
    ------
    MotiffitError
        If there is nothing to plan from, or wishes cannot be met.
    """
    ledger = Ledger.open(folder, create=False)
    rows = _rows(ledger, separator, may_write=output != "json")
    form = without_typed(read_form(ledger), typed, wishes.parts)
    if (words := form_words(form)) and output != "brief":
        tell_aside(f"as wished on the review page: {words}")
    is_without = motifs_only or form.motifs_only
    plain = [row.photo for row in rows if is_without and not row.sizing.motifs]
    pile_units = rows[0].sizing.settings.units
    rows = do_without(rows, [*leave_out, *plain])
    units = units or pile_units
    base = form.to_options(pile_units, default_options(units))
    options = make_options(wishes, units, base)
    with hold_stdout():
        planned = plan_pile(ledger, rows, options)
    if output == "json":
        typer.echo(json.dumps(planned.plan.to_dict(), allow_nan=False, indent=1))
        return
    home = write_plan(ledger, planned, paper=paper or _paper(form, units))
    if output == "full":
        typer.echo(plan_text(planned.plan, width=screen_width()))
        typer.echo("")
    for name, words in _FILES.items():
        typer.echo(f"{words:9}{clean_name(str(home / name))}")


_FILES = {
    "index.html": "Page:",
    "sheets.pdf": "Sheets:",
    "quilt.jpg": "Picture:",
    "shopping.csv": "To buy:",
    "cutting.csv": "Cutting:",
    "layout.csv": "Layout:",
    "plan.json": "Record:",
}


def _paper(form: QuiltForm, units: Units) -> Paper:
    """Return the paper chosen on the page, or the one that goes with the units."""
    return "a4" if (form.paper or usual_paper(units)) == "a4" else "letter"


def _rows(ledger: Ledger, separator: str | None, *, may_write: bool) -> list[Row]:
    """Photos of the pile, after what the table says; it is noted only where that may be written."""
    news = {} if may_write else table_news(ledger)
    if may_write:
        heed_table(ledger)
    rows = pile_rows(ledger, separator=separator, news=news)
    tell_unsized(ledger, rows)
    if not rows:
        raise UsageError(
            f"no photo of {ledger.folder} was sized yet: run 'motiffit pile' on it first"
        )
    return rows

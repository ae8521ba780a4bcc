"""``motiffit plan``: from a sized pile to everything known before buying and cutting."""

from typing import Annotated, Literal

import typer

from motiffit.cli.options import (
    LeaveOut,
    Paper,
    Separator,
    SizedFolder,
    json_option,
    length_option,
    quiet_option,
)

__all__ = ["PLAN_EPILOG", "plan"]

PLAN_EPILOG = """\
\b
Examples:
  motiffit plan photos
  motiffit plan photos --block "9 in" --strips "1 in" --quilt-size "50 x 60 in"
  motiffit plan photos --bed twin --sashing "2 in" --borders "4 in"
  motiffit plan photos --fabrics "cream:#e9dfc9, navy:#203050" --turning barn --part binding=navy
  motiffit plan photos --construction courthouse --seam-take-up "1/32 in"
  motiffit plan photos --leave-out bear --motifs-only
  motiffit plan photos --json > plan.json

\b
Exit status:
  0  there is a plan
  2  wrong usage, wishes that cannot be met, or nothing to plan from
"""

_FIELD_OF = {
    "clockwise": "is_clockwise",
    "outer_sash": "has_outer_sash",
    "corner_squares": "has_corner_squares",
}
"""Fields of what is asked of a quilt, where the options' names differ."""


def plan(
    context: typer.Context,
    folder: SizedFolder,
    block: Annotated[
        str | None,
        length_option("--block", "Finished block.  [default: the largest size of the set]"),
    ] = None,
    strips: Annotated[
        str | None,
        typer.Option(
            "--strips",
            metavar="LENGTHS",
            help="Finished strip width; of several each serves a half round in turn.  "
            "[default: about 1 in or 2.5 cm, as suits all centres]",
            show_default=False,
        ),
    ] = None,
    construction: Annotated[
        Literal["log-cabin", "courthouse"],
        typer.Option("--construction", help="Round and round, or opposite sides in pairs."),
    ] = "log-cabin",
    first_side: Annotated[
        Literal["top", "right", "bottom", "left"],
        typer.Option("--first-side", help="Side of the first strip."),
    ] = "top",
    clockwise: Annotated[
        bool, typer.Option("--clockwise/--counter-clockwise", help="Which way strips go round.")
    ] = True,
    seam_take_up: Annotated[
        str | None,
        length_option(
            "--seam-take-up", "What each seam takes up beyond its allowance.  [default: 0]"
        ),
    ] = None,
    pressing: Annotated[
        Literal["side", "open"], typer.Option("--pressing", help="How seams are pressed.")
    ] = "side",
    scheme: Annotated[
        Literal["one", "halves", "rounds", "sides", "own"],
        typer.Option(
            "--scheme",
            help="Which strip gets which fabric: all one; light and dark halves; one fabric per "
            "round from the outside; one per side; your own order, strip by strip.",
        ),
    ] = "halves",
    fabrics: Annotated[
        str | None,
        typer.Option(
            "--fabrics",
            metavar="NAMES",
            help='Fabrics of the strips, with a colour if you like: "cream:#e9dfc9, navy".',
        ),
    ] = None,
    part: Annotated[
        list[str] | None,
        typer.Option(
            "--part",
            metavar="PART=NAME",
            help="Fabric of another part: sash, border, binding or plain. Parts that name one "
            "fabric are cut from one length.",
        ),
    ] = None,
    turning: Annotated[
        Literal["same", "furrows", "barn", "pinwheel"],
        typer.Option("--turning", help="Pattern of the light halves; motifs stay upright."),
    ] = "same",
    arrangement: Annotated[
        Literal["spread", "rows", "outward"],
        typer.Option(
            "--arrangement",
            help="Sizes and colours spread evenly; or garments in the order of the pile, row by "
            "row, or from the middle outward.",
        ),
    ] = "spread",
    rows: Annotated[int | None, typer.Option("--rows", min=1, help="Rows of blocks.")] = None,
    columns: Annotated[
        int | None, typer.Option("--columns", min=1, help="Blocks in a row.")
    ] = None,
    quilt_size: Annotated[
        str | None,
        typer.Option("--quilt-size", metavar="SIZE", help='Wished size, such as "50 x 60 in".'),
    ] = None,
    bed: Annotated[
        Literal["crib", "twin", "twin-xl", "full", "queen", "king", "california-king"] | None,
        typer.Option("--bed", help="Bed to cover, instead of a size."),
    ] = None,
    drop: Annotated[
        str | None,
        length_option(
            "--drop", "How far it hangs down at the sides and the foot.  [default: 12 in]"
        ),
    ] = None,
    sashing: Annotated[
        str | None, length_option("--sashing", "Finished width of sashes between the blocks.")
    ] = None,
    outer_sash: Annotated[
        bool, typer.Option("--outer-sash/--no-outer-sash", help="Sashes round the outside too.")
    ] = False,
    borders: Annotated[
        str | None,
        typer.Option(
            "--borders", metavar="LENGTHS", help="Finished widths of borders, from the inside."
        ),
    ] = None,
    corner_squares: Annotated[
        bool,
        typer.Option(
            "--corner-squares/--no-corner-squares",
            help="Squares in the outermost border's corners.",
        ),
    ] = False,
    cloth_width: Annotated[
        str | None,
        length_option("--cloth-width", "Usable width of the fabrics.  [default: 40 in or 105 cm]"),
    ] = None,
    straightening: Annotated[
        str | None,
        length_option("--straightening", "Lost when ends are squared.  [default: 2 in or 5 cm]"),
    ] = None,
    shrinkage: Annotated[
        float | None,
        typer.Option(
            "--shrinkage",
            metavar="PERCENT",
            min=0,
            max=49,
            help="Lost when fabric is washed before cutting.  [default: 3]",
            show_default=False,
        ),
    ] = None,
    shop: Annotated[
        Literal["yard", "quarter-yard", "10cm", "25cm", "50cm"] | None,
        typer.Option(
            "--shop",
            help="What the shop cuts: eighths and thirds of a yard, quarters, or steps of a "
            "metre.  [default: yard, or 10cm with centimetres]",
            show_default=False,
        ),
    ] = None,
    interfacing: Annotated[
        Literal["none", "oversize", "to-size"],
        typer.Option("--interfacing", help="Behind the centres: trimmed with them, or to size."),
    ] = "oversize",
    interfacing_width: Annotated[
        str | None,
        length_option(
            "--interfacing-width", "Width of the interfacing.  [default: 20 in or 90 cm]"
        ),
    ] = None,
    backing_width: Annotated[
        str | None,
        length_option(
            "--backing-width", "Usable width of the backing.  [default: 40 in or 105 cm]"
        ),
    ] = None,
    binding_width: Annotated[
        str | None,
        length_option(
            "--binding-width", "Cut width of the binding.  [default: 2 1/2 in or 6.5 cm]"
        ),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Another number gives another layout.")] = 1,
    units: Annotated[
        Literal["in", "cm"] | None,
        typer.Option(
            "--units", help="Units shown and read.  [default: as the pile]", show_default=False
        ),
    ] = None,
    paper: Paper = None,
    leave_out: LeaveOut = None,
    motifs_only: Annotated[
        bool,
        typer.Option(
            "--motifs-only/--all-garments", help="Do without garments that have no motif."
        ),
    ] = False,
    separator: Separator = None,
    json: Annotated[bool, json_option("Print the plan as JSON; write nothing.")] = False,
    quiet: Annotated[bool, quiet_option("Only where the files are.")] = False,
) -> None:
    """Plan the quilt: blocks, cutting, cloth, layout, sheets.

    Reads what 'motiffit pile' wrote, and writes into the folder 'motiffit/plan' inside FOLDER: a
    page (index.html), a picture of the quilt (quilt.jpg), sheets to print at 100 % (sheets.pdf),
    tables (shopping.csv, cutting.csv, layout.csv) and the plan for programs (plan.json).

    What was wished on the quilt's page of 'motiffit review' holds where no option says otherwise.

    In the table garments.csv the column 'pin' (row/column, such as 2/3) keeps a block in its
    place; blocks with the same word under 'together' lie side by side, under 'apart' well apart.
    """
    # imported here because it takes longer to start than the help takes to print
    from motiffit.cli.plan_options import Wishes
    from motiffit.cli.plan_run import run_plan

    typed = [name for name in context.params if _is_typed(context, name)]
    choices = {
        "construction": construction,
        "first_side": first_side,
        "clockwise": clockwise,
        "pressing": pressing,
        "scheme": scheme,
        "turning": turning,
        "arrangement": arrangement,
        "rows": rows,
        "columns": columns,
        "outer_sash": outer_sash,
        "corner_squares": corner_squares,
        "shop": shop,
        "interfacing": interfacing,
        "seed": seed,
    }
    wishes = Wishes(
        lengths={
            ("block_mm", "--block"): block,
            ("seam_take_up_mm", "--seam-take-up"): seam_take_up,
            ("sash_mm", "--sashing"): sashing,
            ("cloth_width_mm", "--cloth-width"): cloth_width,
            ("straightening_mm", "--straightening"): straightening,
            ("interfacing_width_mm", "--interfacing-width"): interfacing_width,
            ("backing_width_mm", "--backing-width"): backing_width,
            ("binding_cut_mm", "--binding-width"): binding_width,
        },
        choices={
            _FIELD_OF.get(name, name): value for name, value in choices.items() if name in typed
        },
        strips=strips,
        borders=borders,
        fabrics=fabrics,
        parts=part or [],
        quilt_size=quilt_size,
        bed=bed,
        drop=drop,
        shrinkage=shrinkage,
    )
    run_plan(
        folder,
        wishes,
        typed=typed,
        units=units,
        paper=paper,
        separator=separator,
        leave_out=leave_out or [],
        motifs_only=motifs_only,
        output="json" if json else "brief" if quiet else "full",
    )


def _is_typed(context: typer.Context, name: str) -> bool:
    """Tell whether a parameter was given, be it with the usual value."""
    source = context.get_parameter_source(name)
    return source is not None and source.name == "COMMANDLINE"

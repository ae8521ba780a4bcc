"""The plan as a page: one file that works without a network and prints well.

Its own content security policy lets no script run at all, and only its own style.
"""

from base64 import b64encode
from collections.abc import Iterator
from io import BytesIO
from typing import Any

from PIL import Image

from motiffit.quilt.cautions import FIRST_WORD
from motiffit.quilt.colour import to_lab
from motiffit.quilt.cutting import FabricNeed
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.plan import BlockKind, Plan
from motiffit.quilt.strips import Frame
from motiffit.show.plan_words import (
    block_words,
    count_words,
    cut_lines,
    extension_words,
    first_words,
    grid_words,
    numbers_of,
    quilt_words,
    shop_lines,
    spread_words,
    strip_words,
    turning_words,
    unsettled_words,
)
from motiffit.show.shell import inline, templates

__all__ = ["plan_page"]

_DRAWN_SIDE = 200.0
_LARGEST_LETTERS = 11.0
_DARK = 60  # lightness below which writing on a fabric is white


def plan_page(plan: Plan, *, title: str, picture: bytes) -> bytes:
    """Return the page.

    Parameters
    ----------
    plan
        The plan.
    title
        What the quilt is called.
    picture
        The preview, a JPEG file; it goes into the page.
    """
    with Image.open(BytesIO(picture)) as opened:
        size = opened.size
    text = templates().get_template("plan_page.html").render(
        **inline("style", "plan_page.css"),
        title=title,
        quilt=quilt_words(plan),
        blocks=block_words(plan),
        picture=b64encode(picture).decode(),
        picture_size=size,
        messages=plan.messages,
        shopping=list(shop_lines(plan)),
        turning=turning_words(plan),
        kinds=[_kind(kind, plan) for kind in plan.kinds],
        cutting=[_fabric(need, plan) for need in plan.fabrics],
        extensions=[extension_words(piece, plan) for piece in plan.extensions.pieces],
        spread=spread_words(plan),
        unsettled=unsettled_words(plan),
        grid=list(_grid(plan)),
        other_grids=list(grid_words(plan)),
        first_word=FIRST_WORD,
        cautions=plan.cautions,
        left_out=plan.left_out,
    )  # fmt: skip
    # a name that is no valid text holds lone surrogates
    return text.encode("utf-8", "replace")


def _kind(kind: BlockKind, plan: Plan) -> dict[str, Any]:
    """Drawing and strips of the blocks of one centre size."""
    units, block = plan.options.units, kind.block
    scale = _DRAWN_SIDE / float(block.width_mm)
    strips = []
    for strip, fabric in zip(block.strips, kind.fabrics, strict=True):
        number, side, name, cut = strip_words(strip, kind, plan)
        drawn = _drawn(strip.place, scale)
        strips.append(
            {
                **drawn,
                "colour": fabric.colour,
                "ink": "#fff" if to_lab(fabric.colour)[0] < _DARK else "#000",
                "size": min(_LARGEST_LETTERS, 0.8 * drawn["width"], 0.8 * drawn["height"]),
                "number": number,
                "side": side,
                "cut": f"{cut}, {name}",
            }
        )
    return {
        "count": count_words(kind, plan),
        "first": first_words(kind),
        "finished": format_cut(block.centre_mm, units),
        "cut": format_cut(block.cut_centre_mm, units),
        "side": _DRAWN_SIDE,
        "strips": strips,
        "centre": _drawn(block.centre_place, scale),
    }


def _drawn(frame: Frame, scale: float) -> dict[str, float]:
    """Rectangle of a drawing."""
    return {
        "x": round(float(frame.left_mm) * scale, 2),
        "y": round(float(frame.top_mm) * scale, 2),
        "width": round(float(frame.width_mm) * scale, 2),
        "height": round(float(frame.height_mm) * scale, 2),
    }


def _fabric(need: FabricNeed, plan: Plan) -> dict[str, Any]:
    """Cutting list of one fabric."""
    groups = [
        {
            "uses": ", ".join(group.uses),
            "strips": group.strips,
            "width": format_cut(group.width_mm, plan.options.units),
            "proof": "the fewest possible"
            if group.is_proven
            else f"at least {group.at_least} are needed",
            "lines": list(cut_lines(group, plan)),
        }
        for group in need.groups
    ]
    return {"name": need.fabric.name, "colour": need.fabric.colour, "groups": groups}


def _grid(plan: Plan) -> Iterator[list[str]]:
    """Names of the garments, row by row."""
    numbers = numbers_of(plan)
    cells = []
    for cell in plan.layout.cells:
        centre = plan.centre_of(cell)
        words = "plain block"
        if centre is not None:
            size = format_cut(centre.finished_mm, plan.options.units)
            words = f"{numbers[centre.photo]} {centre.name}, {size}"
        cells.append(words)
    for start in range(0, len(cells), plan.grid.columns):
        yield cells[start : start + plan.grid.columns]

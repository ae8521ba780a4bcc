"""What the page shows of a plan, JSON-ready: words, lists, and where each block lies."""

from typing import Any

from motiffit.errors import UsageError
from motiffit.quilt import Fabric, Plan, default_options
from motiffit.quilt.layout import Cell
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.setting import place_blocks
from motiffit.review.form import PART_FABRICS, QuiltForm
from motiffit.review.words import page_text
from motiffit.show.plan_words import (
    block_words,
    cut_lines,
    extension_words,
    grid_words,
    quilt_words,
    shop_lines,
    spread_words,
)
from motiffit.show.preview import BINDING_MM
from motiffit.show.rows import Row
from motiffit.units import Units

__all__ = ["places_of", "plan_in_words", "shown_fabrics"]


def shown_fabrics(form: QuiltForm, units: Units) -> dict[str, Any]:
    """Return name and colour of every fabric in use, those of the strips in their order."""
    try:
        options = form.to_options(units)
    except UsageError:
        options = default_options(units)
    parts: dict[str, Fabric] = {name: getattr(options, name) for name in PART_FABRICS}
    return {
        "fabrics": [[part.name, part.colour] for part in options.fabrics_in_use],
        "parts": {name: [part.name, part.colour] for name, part in parts.items()},
    }


def plan_in_words(plan: Plan, rows: list[Row]) -> dict[str, Any]:
    """Return the plan in words."""
    refusals = {
        row.photo: page_text(row.sizing.messages[0])
        for row in rows
        if row.sizing.window is None and row.sizing.messages
    }
    return {
        "quilt": quilt_words(plan),
        "blocks": block_words(plan),
        "spread": spread_words(plan),
        "grids": list(grid_words(plan)),
        "messages": [
            {"severity": item.severity, "text": page_text(item)} for item in plan.messages
        ],
        "left_out": [
            {"photo": left.photo, "reason": refusals.get(left.photo, left.reason)}
            for left in plan.left_out
        ],
        "shopping": [[line.item, line.amount, line.detail] for line in shop_lines(plan)],
        "cutting": [
            {
                "fabric": need.fabric.name,
                "colour": need.fabric.colour,
                "lines": [
                    [line.strips, line.width, line.yields]
                    for group in need.groups
                    for line in cut_lines(group, plan)
                ],
            }
            for need in plan.fabrics
        ],
        "extensions": [extension_words(piece, plan) for piece in plan.extensions.pieces],
        "cautions": [caution.text for caution in plan.cautions],
    }


def places_of(plan: Plan) -> dict[str, Any]:
    """Return the places of the blocks in the preview, as parts of its width and height."""
    width = float(plan.grid.width_mm) + 2 * BINDING_MM
    height = float(plan.grid.height_mm) + 2 * BINDING_MM
    corners = place_blocks(plan.grid.rows, plan.grid.columns, plan.setting)
    side = float(plan.block_mm)
    return {
        "rows": plan.grid.rows,
        "columns": plan.grid.columns,
        "shape": width / height,
        "cells": [
            {
                **_cell(plan, cell),
                "left": (float(left) + BINDING_MM) / width,
                "top": (float(top) + BINDING_MM) / height,
                "width": side / width,
                "height": side / height,
            }
            for cell, (left, top) in zip(plan.layout.cells, corners, strict=True)
        ],
        "spare": list(plan.layout.spare),
    }


def _cell(plan: Plan, cell: Cell) -> dict[str, Any]:
    """Return what lies at a place."""
    centre = plan.centre_of(cell)
    return {
        "row": cell.row,
        "column": cell.column,
        "photo": cell.photo,
        "name": None if centre is None else centre.name,
        "size": None if centre is None else format_cut(centre.finished_mm, plan.options.units),
        "is_pinned": cell.is_pinned,
    }

"""The quilt as it will look, true to scale: real motifs inside strips of the chosen colours."""

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.quilt.colour import parse_colour
from motiffit.quilt.fabrics import assign_fabrics
from motiffit.quilt.layout import Cell
from motiffit.quilt.plan import Plan
from motiffit.quilt.setting import Grid, place_blocks
from motiffit.quilt.strips import Frame, Side
from motiffit.show.strokes import CASING, WHITE, text_size, write

__all__ = ["BINDING_MM", "draw_preview", "preview_scale"]

Picture = NDArray[np.uint8]

_LONGEST_PX = 2400  # sharp on a large screen, and on a page at 250 pixels per inch
_LARGEST_PX_PER_MM = 2.0
_UNKNOWN = (205, 200, 192)  # a centre whose photo is not at hand
_SEAM_SHADE = 0.82  # how dark a seam looks against the cloth beside it
_MARK_MM, _LEAST_MARK_PX = 20.0, 24  # the plate that marks a centre as not settled
BINDING_MM = 9.5
"""Drawn round the quilt: what shows of a 2 1/2 in double-fold binding, about 3/8 in."""


def preview_scale(plan: Plan) -> float:
    """Return the pixels per millimetre of the preview."""
    longest = float(max(plan.grid.width_mm, plan.grid.height_mm)) + 2 * BINDING_MM
    return min(_LARGEST_PX_PER_MM, _LONGEST_PX / longest)


def draw_preview(plan: Plan, patches: Mapping[str, Picture]) -> Picture:
    """Draw the quilt top.

    Parameters
    ----------
    plan
        The plan.
    patches
        The square of cloth of each garment (`motiffit.show.patch.cut_patch`), by photo; any size.
        Garments without one show as a plain square.

    Returns
    -------
    ndarray
        ``(h, w, 3)`` uint8 RGB at `preview_scale`.
    """
    canvas = _Canvas(plan)
    canvas.draw_ground()
    places = place_blocks(plan.grid.rows, plan.grid.columns, plan.setting)
    for cell, place in zip(plan.layout.cells, places, strict=True):
        canvas.draw_cell(cell, place, patches)
    return canvas.picture


class _Canvas:
    """A picture of the quilt top, drawn in millimetres from its top left corner."""

    def __init__(self, plan: Plan) -> None:
        """Begin with the binding."""
        self.plan = plan
        self.scale = preview_scale(plan)
        width, height = (
            round((float(side) + 2 * BINDING_MM) * self.scale)
            for side in (plan.grid.width_mm, plan.grid.height_mm)
        )
        self.picture = np.empty((height, width, 3), dtype=np.uint8)
        self.picture[:] = parse_colour(plan.options.binding_fabric.colour)

    def draw_ground(self) -> None:
        """Draw borders and, inside them, what will show between the blocks."""
        options, grid = self.plan.options, self.plan.grid
        inset = Fraction(0)
        for border in reversed(options.borders_mm):
            self._fill(_inside(grid, inset), options.border_fabric.colour)
            inset += border
        self._fill(_inside(grid, inset), options.sash_fabric.colour)

    def draw_cell(
        self, cell: Cell, place: tuple[Fraction, Fraction], patches: Mapping[str, Picture]
    ) -> None:
        """Draw one block, plain or sewn."""
        plan, side = self.plan, self.plan.block_mm
        block = plan.block_at(cell)
        if block is None:
            whole = Frame(left_mm=place[0], top_mm=place[1], width_mm=side, height_mm=side)
            self._fill(whole, plan.options.plain_fabric.colour)
            return
        fabrics = assign_fabrics(block, plan.options.scheme, plan.options.fabrics_in_use)
        for strip, fabric in zip(block.strips, fabrics, strict=True):
            self._fill(_moved(strip.place, place), fabric.colour)
        centre = _moved(block.centre_place, place)
        self._paste(centre, patches.get(cell.photo or ""))
        for piece in plan.extensions.pieces:
            if piece.photo == cell.photo:
                band = _band(centre, piece.side, piece.short_mm)
                self._fill(band, plan.options.plain_fabric.colour)
        garment = plan.centre_of(cell)
        if garment is not None and garment.needs_an_eye:
            self._mark_unsettled(centre)

    def _fill(self, frame: Frame, colour: str) -> None:
        """Paint a piece of cloth and the shade of its seams."""
        piece = self._part(frame)
        piece[:] = parse_colour(colour)
        _shade_edges(piece)

    def _mark_unsettled(self, frame: Frame) -> None:
        """Put a question mark on a plate into the corner of a centre that may still change."""
        piece = self._part(frame)
        size = max(_LEAST_MARK_PX, round(_MARK_MM * self.scale))
        plate = piece[:size, :size]
        plate[:] = CASING
        width, height = text_size("?", round(0.8 * size))
        corner = ((plate.shape[1] - width) / 2, (plate.shape[0] - height) / 2)
        write(plate, corner, "?", size_px=round(0.8 * size), colour=WHITE)

    def _paste(self, frame: Frame, patch: Picture | None) -> None:
        """Put a centre in its place."""
        piece = self._part(frame)
        if patch is None:
            piece[:] = _UNKNOWN
        else:
            size = (piece.shape[1], piece.shape[0])
            shrinks = patch.shape[0] > piece.shape[0]
            way = cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC
            piece[:] = cv2.resize(patch, size, interpolation=way)
        _shade_edges(piece)

    def _part(self, frame: Frame) -> Picture:
        """Part of the picture that a piece covers; neighbours share their edge exactly."""
        left, right = (
            round((float(x) + BINDING_MM) * self.scale)
            for x in (frame.left_mm, frame.left_mm + frame.width_mm)
        )
        top, bottom = (
            round((float(y) + BINDING_MM) * self.scale)
            for y in (frame.top_mm, frame.top_mm + frame.height_mm)
        )
        return self.picture[top:bottom, left:right]


def _inside(grid: Grid, inset_mm: Fraction) -> Frame:
    """Quilt top without a rim."""
    return Frame(
        left_mm=inset_mm,
        top_mm=inset_mm,
        width_mm=grid.width_mm - 2 * inset_mm,
        height_mm=grid.height_mm - 2 * inset_mm,
    )


def _band(frame: Frame, side: Side, width_mm: Fraction) -> Frame:
    """Strip along one side of a rectangle, on its inside: what an extension piece shows."""
    width = min(width_mm, frame.width_mm)
    if side in ("top", "bottom"):
        top = frame.top_mm + (frame.height_mm - width if side == "bottom" else 0)
        return replace(frame, top_mm=top, height_mm=width)
    left = frame.left_mm + (frame.width_mm - width if side == "right" else 0)
    return replace(frame, left_mm=left, width_mm=width)


def _moved(frame: Frame, by: tuple[Fraction, Fraction]) -> Frame:
    """Measure a place in a block from the corner of the quilt."""
    return replace(frame, left_mm=frame.left_mm + by[0], top_mm=frame.top_mm + by[1])


def _shade_edges(piece: Picture) -> None:
    """Darken the outermost pixels, where the cloth turns into the seam."""
    for edge in (piece[:1], piece[-1:], piece[1:-1, :1], piece[1:-1, -1:]):
        edge[:] = (edge * _SEAM_SHADE).astype(np.uint8)

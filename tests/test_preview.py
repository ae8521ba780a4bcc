"""The picture of the quilt: everything where the plan says, true to scale."""

from dataclasses import replace
from fractions import Fraction as F

import cv2
import numpy as np
import pytest
from plans import MIXED, make_record, make_records

from motiffit.quilt import Fabric, Plan, PlanOptions, make_plan
from motiffit.quilt.colour import parse_colour
from motiffit.record import Sides
from motiffit.show.patch import cloth_colour, cut_patch
from motiffit.show.preview import draw_preview, preview_scale
from motiffit.units import MM_PER_INCH

INCH = MM_PER_INCH
RED = (210, 40, 40)
BINDING_MM = 9.5  # drawn round the top


def solid(colour: tuple[int, int, int]) -> np.ndarray:
    """A patch of one colour."""
    return np.full((40, 40, 3), colour, np.uint8)


def share_of(picture: np.ndarray, colour: tuple[int, int, int]) -> float:
    """Square millimetres of a picture in one colour, in its own pixels."""
    return float((picture == colour).all(axis=2).sum())


def colour_at(plan: Plan, picture: np.ndarray, x_mm: F, y_mm: F) -> tuple[int, ...]:
    """Colour at a place of the quilt top."""
    scale = preview_scale(plan)
    row, column = (int((float(at) + BINDING_MM) * scale) for at in (y_mm, x_mm))
    return tuple(picture[row, column].tolist())


def test_every_strip_shows_its_fabric_where_it_is_sewn() -> None:
    plan = make_plan(MIXED, replace(PlanOptions(), turning="pinwheel", scheme="sides"))
    picture = draw_preview(plan, {})
    colours = {
        side: parse_colour(fabric.colour)
        for side, fabric in zip(
            ("top", "right", "bottom", "left"), plan.options.fabrics_in_use, strict=True
        )
    }
    for cell in plan.layout.cells:
        block = plan.block_at(cell)
        assert block is not None
        left, top = (cell.column - 1) * plan.block_mm, (cell.row - 1) * plan.block_mm
        for strip in block.strips:
            x = left + strip.place.left_mm + strip.place.width_mm / 2
            y = top + strip.place.top_mm + strip.place.height_mm / 2
            assert colour_at(plan, picture, x, y) == colours[strip.side]


def test_centres_are_true_to_scale() -> None:
    plan = make_plan(make_records([5]), replace(PlanOptions(), block_mm=9 * INCH))
    picture = draw_preview(plan, {"garment 0.jpg": solid(RED)})
    side_px = 5 * 25.4 * preview_scale(plan)
    # the outermost pixels are shaded as a seam
    assert share_of(picture, RED) == pytest.approx((side_px - 2) ** 2, rel=0.02)
    middle = 9 * INCH / 2
    assert colour_at(plan, picture, middle, middle) == RED


def test_sashes_borders_and_binding_lie_round_the_blocks() -> None:
    options = replace(
        PlanOptions(),
        rows=2,
        columns=2,
        sash_mm=2 * INCH,
        borders_mm=(3 * INCH,),
        sash_fabric=Fabric(name="s", colour="#00ff00"),
        border_fabric=Fabric(name="b", colour="#0000ff"),
        binding_fabric=Fabric(name="e", colour="#ff00ff"),
    )
    plan = make_plan(make_records([9, 9, 9, 9]), options)
    picture = draw_preview(plan, {record.photo: solid(RED) for record in make_records([9] * 4)})
    assert plan.grid.width_mm == 26 * INCH
    assert colour_at(plan, picture, INCH, INCH) == (0, 0, 255)
    assert colour_at(plan, picture, 13 * INCH, 13 * INCH) == (0, 255, 0)
    assert colour_at(plan, picture, 7 * INCH, 7 * INCH) == RED
    assert tuple(picture[2, 2].tolist()) == (255, 0, 255)


def test_extension_pieces_and_plain_blocks_show() -> None:
    short = Sides(top=0.0, right=25.4, bottom=0.0, left=0.0)
    options = replace(
        PlanOptions(),
        rows=1,
        columns=2,
        plain_fabric=Fabric(name="p", colour="#ffff00"),
    )
    plan = make_plan([make_record("bib.jpg", 9, short=short)], options)
    picture = draw_preview(plan, {"bib.jpg": solid(RED)})
    column = next(cell.column for cell in plan.layout.cells if cell.photo)
    left = (column - 1) * 9 * INCH
    assert colour_at(plan, picture, left + F(17, 2) * INCH, 4 * INCH) == (255, 255, 0)
    assert colour_at(plan, picture, left + F(15, 2) * INCH, 4 * INCH) == RED
    assert colour_at(plan, picture, (2 - column) * 9 * INCH + INCH, INCH) == (255, 255, 0)


def test_large_quilts_stay_within_a_size() -> None:
    plan = make_plan(make_records([5] * 90), PlanOptions())
    assert max(draw_preview(plan, {}).shape) <= 2401


# --- the cloth behind a window -------------------------------------------------------------------


def test_a_turned_window_comes_out_upright() -> None:
    # a garment turned by 30 degrees: its upper half red, its lower half blue
    record = make_record("bib.jpg", 4)
    assert record.window is not None
    picture = np.zeros((800, 800, 3), np.uint8)
    turn = np.deg2rad(30)
    along, down = np.array([np.cos(turn), np.sin(turn)]), np.array([-np.sin(turn), np.cos(turn)])
    middle = np.array([400.0, 420.0])
    corners = [
        middle + 150 * (x * along + y * down) for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    upper = [corners[0], corners[1], middle + 150 * along, middle - 150 * along]
    lower = [middle - 150 * along, middle + 150 * along, corners[2], corners[3]]
    cv2.fillPoly(picture, [np.rint(upper).astype(np.int32)], RED)
    cv2.fillPoly(picture, [np.rint(lower).astype(np.int32)], (0, 0, 255))
    # the photo was decoded at half its size
    seam = tuple((float(x) * 2 + 0.5, float(y) * 2 + 0.5) for x, y in corners)
    window = replace(record.window, seam_corners_px=seam)
    patch = cut_patch(picture, 2.0, window, px_per_mm=1.0)
    assert patch.shape == (102, 102, 3)
    assert (patch[5:45, 5:-5] == RED).all()
    assert (patch[56:-5, 5:-5] == (0, 0, 255)).all()


def test_colour_of_cloth_is_that_of_most_of_it() -> None:
    patch = solid((91, 112, 137)).copy()
    patch[:12] = 255  # a motif on a third of it
    assert cloth_colour(patch) == "#5b7089"


def test_a_centre_not_settled_carries_a_mark() -> None:
    records = make_records([5, 5])
    patches = {record.photo: solid(RED) for record in records}
    sure = draw_preview(make_plan(records, PlanOptions()), patches)
    doubtful = [records[0], replace(records[1], outcome="check")]
    marked = draw_preview(make_plan(doubtful, PlanOptions()), patches)
    changed = (sure != marked).any(axis=2)
    scale = preview_scale(make_plan(records, PlanOptions()))
    assert 0.5 * 20**2 < changed.sum() / scale**2 <= 21**2  # a plate of 20 mm, in one place

"""A square put by hand: the same numbers as the program's own square, at another place and turn."""

import numpy as np
import pytest
import records
from hypothesis import given
from hypothesis import strategies as st
from scenes import make_scene, render, save_photo
from shapely import Polygon, box
from shapely.affinity import rotate, translate
from test_window import make_motif

from motiffit.measure.geometry import box_corners, cross_lines, rotate_vectors
from motiffit.measure.placed import fit_placed, turned_box
from motiffit.measure.report import check_sizing
from motiffit.measure.window import fit_window
from motiffit.record import Sides
from motiffit.settings import Settings
from motiffit.sizing import size_photo, size_survey, survey_photo

NOWHERE = np.zeros((0, 2))
TABLE = np.array([[-400.0, -400.0], [400.0, -400.0], [400.0, 400.0], [-400.0, 400.0]])
TOUCH_MM = 1e-6  # two routes through floating point

sides = st.floats(5, 200)
moves = st.floats(-40, 40)
turns = st.floats(-180, 180)


@given(sides, sides, turns)
def test_put_where_the_program_put_it_nothing_changes(width, height, angle):
    motif = make_motif(width, height, angle=angle, centre=(12.0, -7.0))
    own = fit_window(motif, NOWHERE, Settings())
    put = fit_placed(motif, NOWHERE, Settings(), centre_mm=(12.0, -7.0), angle_deg=angle)
    assert put.finished_mm == own.finished_mm
    assert put.p_clear == pytest.approx(own.p_clear)
    assert put.clearance_mm.least() == pytest.approx(own.clearance_mm.least(), abs=TOUCH_MM)


@given(sides, sides, moves, moves, turns, turns)
def test_clearances_are_those_of_the_drawn_shapes(width, height, x, y, angle, turn):
    # by shapely: turn everything so that the square is upright, then compare bounds
    motif = make_motif(width, height, angle=angle)
    put = fit_placed(motif, NOWHERE, Settings(), centre_mm=(x, y), angle_deg=turn)
    drawn = rotate(box(-width / 2, -height / 2, width / 2, height / 2), angle, origin=(0, 0))
    upright = rotate(translate(drawn, -x, -y), -turn, origin=(0, 0))
    left, top, right, bottom = upright.bounds
    half = put.finished_mm / 2
    expected = Sides(top=half + top, right=half - right, bottom=half - bottom, left=half + left)
    for side in ("top", "right", "bottom", "left"):
        assert getattr(put.clearance_mm, side) == pytest.approx(
            getattr(expected, side), abs=TOUCH_MM
        )


@given(sides, sides, turns, turns)
def test_the_box_at_another_turn_holds_the_motif(width, height, angle, turn):
    motif = make_motif(width, height, angle=angle)
    held = turned_box(motif, turn)
    outer = Polygon(box_corners(held.centre_mm, held.width_mm, held.height_mm, turn))
    inner = Polygon(box_corners(motif.centre_mm, width, height, angle))
    assert outer.buffer(TOUCH_MM).contains(inner)


def test_errors_go_with_the_sides_at_a_quarter_turn():
    motif = make_motif(80, 40)
    sd = Sides(top=1.0, right=2.0, bottom=3.0, left=4.0)
    motif = records.replace_sd(motif, sd)
    # seen by a square turned clockwise by 90 degrees, what lies on the right lies at the top
    assert turned_box(motif, 90.0).sd_edges_mm == Sides(
        top=pytest.approx(2.0), right=pytest.approx(3.0),
        bottom=pytest.approx(4.0), left=pytest.approx(1.0),
    )  # fmt: skip


def test_errors_of_a_tilted_box_are_those_of_its_moving_corner():
    # by drawing: both edges of the corner err independently, 100,000 draws
    motif = records.replace_sd(make_motif(80, 60), Sides(top=1.0, right=1.0, bottom=1.0, left=1.0))
    rng = np.random.default_rng(5)
    corner = np.array([40.0, -30.0]) + rng.normal(size=(100_000, 2))
    reach = rotate_vectors(corner, -20.0)[:, 0]  # seen from a square turned by 20 degrees
    lower = np.array([40.0, 30.0]) + rng.normal(size=(100_000, 2))
    reach = np.maximum(reach, rotate_vectors(lower, -20.0)[:, 0])
    assert turned_box(motif, 20.0).sd_edges_mm.right == pytest.approx(reach.std(), rel=0.03)


def test_off_the_middle_a_larger_size_is_taken_and_said():
    motif = make_motif(90, 60, sd=0.1)
    put = fit_placed(motif, TABLE, Settings(), centre_mm=(15.0, 0.0), angle_deg=0.0)
    assert put.finished_mm == pytest.approx(127.0)  # 4 in leaves 50.8 - 15 - 45 < 0
    kept = fit_placed(motif, TABLE, Settings(sizes_mm=(101.6,)), centre_mm=(15.0, 0.0), angle_deg=0)
    assert [message.code for message in kept.messages] == ["placed-cuts"]
    near = fit_placed(motif, TABLE, Settings(sizes_mm=(101.6,)), centre_mm=(4.0, 0.0), angle_deg=0)
    assert [message.code for message in near.messages] == ["placed-close"]


def test_missing_cloth_is_told_in_the_squares_own_frame():
    motif = make_motif(60, 60, sd=0.1, centre=(350.0, 0.0))
    put = fit_placed(motif, TABLE, Settings(), centre_mm=(370.0, 0.0), angle_deg=90.0)
    # the cut square reaches to 370 + 63.5 + 6.35 = 439.85: seen by the square, that is its top
    assert put.finished_mm == pytest.approx(127.0)
    assert put.cloth_short_mm.top == pytest.approx(39.85)
    assert [message.code for message in put.messages] == ["cloth-short"]


def test_without_a_motif_the_largest_that_lies_on_the_cloth():
    put = fit_placed(None, TABLE, Settings(), centre_mm=(300.0, 0.0), angle_deg=0.0)
    # 100 mm to the edge: 7 in needs 88.9 + 6.35, 8 in 101.6 + 6.35
    assert put.finished_mm == pytest.approx(177.8)
    assert put.clearance_mm is None
    assert put.sizes == ()


def test_with_no_cloth_there_at_all_the_smallest_is_short():
    put = fit_placed(None, TABLE, Settings(), centre_mm=(390.0, 0.0), angle_deg=0.0)
    assert put.finished_mm == pytest.approx(76.2)
    assert [message.code for message in put.messages] == ["cloth-short"]


def test_a_square_put_by_hand_lies_there_in_the_photo(tmp_path):
    scene = make_scene(11, tilt_deg=9.0)
    path = tmp_path / "shirt.png"
    save_photo(render(scene), path, focal_35mm=scene.camera.focal_35mm)
    put = size_photo(path, Settings(place=(600.0, 640.0, 12.0)))
    a, b, c, d = np.asarray(put.window.seam_corners_px)
    # whatever the view, a square's diagonals cross in its middle
    assert cross_lines(a, c - a, b, d - b) == pytest.approx([600.0, 640.0], abs=0.1)
    assert put.window.angle_deg == 12.0
    check_sizing(put)


def test_a_survey_answers_as_the_photo_does(tmp_path):
    scene = make_scene(11, tilt_deg=9.0)
    path = tmp_path / "shirt.png"
    save_photo(render(scene), path, focal_35mm=scene.camera.focal_35mm)
    survey, _ = survey_photo(path, Settings())
    for settings in (
        Settings(),
        Settings(no_motif=True),
        Settings(outline_px=((300.0, 300.0), (600.0, 640.0)), sizes_mm=(101.6,)),
        Settings(place=(500.0, 500.0, -5.0)),
    ):
        assert size_survey(survey, settings) == size_photo(path, settings)

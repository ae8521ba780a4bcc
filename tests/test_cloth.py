"""The garment's mask, outline and axis, against drawn truth."""

import cv2
import flats
import numpy as np
import pytest
import shapely
from flats import SHIRT, make_flat, turned

from motiffit.measure.cloth import Cloth, _features, separate_cloth
from motiffit.measure.contour import even_points, snap_contour, without_loops
from motiffit.measure.flatview import FlatView
from motiffit.measure.garment import mirror_turn, see_garment
from motiffit.measure.geometry import polygon_area
from motiffit.measure.network import Glance
from motiffit.measure.segment import count_odds, cut_in_two, group_pixels
from motiffit.measure.view import View

OUTLINE_MM = 1.5  # median distance of the outline: a sixteenth of an inch, a quilter's own accuracy
TURN_DEG = 1.5  # over the 240 mm of a large cut square this shifts a corner by 3 mm
BLUE = (62, 98, 171)
MIDDLE = (23.7, -11.2)


def outline_error_mm(cloth: Cloth, truth: np.ndarray) -> float:
    """Return the median distance of the outline from the true one."""
    true = shapely.Polygon(truth).exterior
    found = shapely.segmentize(shapely.Polygon(cloth.outline_mm).exterior, 2.0)
    return float(np.median([true.distance(shapely.Point(p)) for p in found.coords]))


def overlap(cloth: Cloth, truth: np.ndarray) -> float:
    """Return intersection over union of the outline with the true one."""
    a, b = shapely.Polygon(cloth.outline_mm), shapely.Polygon(truth)
    return float(a.intersection(b).area / a.union(b).area)


def test_a_wrong_outline_is_told_from_a_right_one() -> None:
    cloth = separate_cloth(make_flat([(turned(SHIRT, 0, MIDDLE), BLUE)]))
    grown = np.array(shapely.Polygon(turned(SHIRT, 0, MIDDLE)).buffer(4.0).exterior.coords)
    assert outline_error_mm(cloth, grown) > OUTLINE_MM
    assert overlap(cloth, turned(SHIRT, 20, MIDDLE)) < 0.9


@pytest.mark.parametrize("turn_deg", [0.0, 16.3, -23.8, 38.4])
@pytest.mark.parametrize("cloth_rgb", [BLUE, (246, 240, 228), (121, 113, 98)])
def test_outline_and_axis(turn_deg: float, cloth_rgb: tuple[int, int, int]) -> None:
    truth = turned(SHIRT, turn_deg, MIDDLE)
    cloth = separate_cloth(make_flat([(truth, cloth_rgb)]))
    assert outline_error_mm(cloth, truth) < OUTLINE_MM
    assert overlap(cloth, truth) > 0.96
    assert cloth.upright_deg == pytest.approx(turn_deg, abs=TURN_DEG)
    assert cloth.messages == ()
    assert not cloth.reference_on_cloth


def test_white_on_clipped_white_sheet_is_doubted_or_found() -> None:
    truth = turned(SHIRT, 0, MIDDLE)
    cloth = separate_cloth(make_flat([(truth, (255, 255, 255))], floor=(250, 250, 250)))
    doubted = any(message.code == "garment-unclear" for message in cloth.messages)
    assert doubted or overlap(cloth, truth) > 0.9


def test_clipped_white_on_a_floor_is_found() -> None:
    truth = turned(SHIRT, 0, MIDDLE)
    assert overlap(separate_cloth(make_flat([(truth, (255, 255, 255))], noise=0.0)), truth) > 0.95


def test_outline_is_a_simple_polygon_and_the_mask_is_its_inside() -> None:
    flat = make_flat([(turned(SHIRT, 9.0, MIDDLE), BLUE)], mm_per_px=0.83)
    cloth = separate_cloth(flat)
    polygon = shapely.Polygon(cloth.outline_mm)
    assert polygon.is_valid
    assert polygon_area(cloth.outline_mm) > 0  # clockwise as seen
    assert 10 <= len(cloth.outline_mm) <= 200
    assert cloth.mask.sum() * flat.mm_per_px**2 == pytest.approx(polygon.area, rel=0.01)
    for array in (cloth.mask, cloth.outline_mm):
        assert not array.flags.writeable


def test_finer_view_gives_the_same_garment() -> None:
    truth = turned(SHIRT, -12.0, MIDDLE)
    coarse = separate_cloth(make_flat([(truth, BLUE)], mm_per_px=1.3))
    fine = separate_cloth(make_flat([(truth, BLUE)], mm_per_px=0.6))
    assert overlap(coarse, fine.outline_mm) > 0.97
    assert coarse.upright_deg == pytest.approx(fine.upright_deg, abs=TURN_DEG)


def test_a_print_does_not_change_the_outline() -> None:
    truth = turned(SHIRT, 0, MIDDLE)
    star = np.array([[-50, -60], [50, -60], [60, 40], [-45, 30]]) + MIDDLE
    cloth = separate_cloth(make_flat([(truth, BLUE), (star, (228, 92, 40))]))
    assert outline_error_mm(cloth, truth) < OUTLINE_MM


def test_a_garment_that_leaves_the_photo_is_said_so() -> None:
    truth = turned(SHIRT * 1.6, 0, (0.0, 90.0))
    cloth = separate_cloth(make_flat([(truth, BLUE)], card_mm=(-250.0, -220.0)))
    assert "garment-cut" in [message.code for message in cloth.messages]


def test_an_empty_floor_has_no_clear_garment() -> None:
    cloth = separate_cloth(make_flat([]))
    assert [message.code for message in cloth.messages][:1] == ["garment-unclear"]
    assert cloth.trust < 0.5


def test_a_card_on_the_garment_is_noticed() -> None:
    truth = turned(SHIRT * 1.2, 0, (0.0, 0.0))
    cloth = separate_cloth(make_flat([(truth, BLUE)], card_mm=(12.0, 60.0)))
    assert cloth.reference_on_cloth
    assert overlap(cloth, truth) > 0.95


@pytest.mark.parametrize("turn_deg", [0.0, 9.7, -31.2, 64.5, 161.3])
@pytest.mark.parametrize("off_deg", [-14.0, 3.0])
def test_axis_of_a_mask_is_found_from_a_blunt_guess(turn_deg: float, off_deg: float) -> None:
    mask = np.zeros((331, 407), np.uint8)
    points = turned(SHIRT * 0.8, turn_deg, (196.3, 171.8))
    cv2.fillPoly(mask, [np.round(points * 16).astype(np.int32)], 1, shift=4)
    found_deg, symmetry = mirror_turn(mask.astype(bool), turn_deg + off_deg)
    assert found_deg == pytest.approx(turn_deg, abs=1.0)
    assert symmetry > 0.98


def test_a_lopsided_mask_keeps_the_guess() -> None:
    mask = np.zeros((300, 300), bool)
    mask[40:100, 40:180] = mask[100:200, 120:180] = mask[200:260, 120:260] = True  # a Z
    found_deg, symmetry = mirror_turn(mask, 4.0)
    assert symmetry < 0.85
    assert found_deg == 4.0


def test_cut_follows_the_colour_where_the_odds_are_silent() -> None:
    lab = np.full((40, 50, 3), (60.0, 0.0, 0.0), np.float32)
    lab[:, 23:] = (40.0, 30.0, -20.0)
    lab += np.random.default_rng(3).normal(0, 0.4, lab.shape).astype(np.float32)
    odds = np.zeros((40, 50), np.float32)
    odds[:, :10], odds[:, 40:] = -2.0, 2.0
    odds[20, 5] = 3.0  # one cell that is wrong
    inside = cut_in_two(odds, lab, np.ones((40, 50), bool))
    np.testing.assert_array_equal(inside, np.arange(50)[None] >= np.full((40, 1), 23))


def test_cut_keeps_out_what_is_not_usable() -> None:
    usable = np.ones((20, 20), bool)
    usable[:, :7] = False
    lab = np.random.default_rng(4).normal(50, 1, (20, 20, 3)).astype(np.float32)
    inside = cut_in_two(np.full((20, 20), 2.0, np.float32), lab, usable)
    assert not inside[~usable].any()
    assert inside[usable].mean() > 0.9


def test_groups_and_their_odds() -> None:
    features = np.zeros((30, 30, 2), np.float32)
    features[:, 18:] = (40.0, -12.0)
    everywhere = np.ones((30, 30), bool)
    groups = group_pixels(features, everywhere, count=2)
    right = np.arange(30)[None] >= np.full((30, 1), 18)
    assert len(np.unique(groups[right])) == len(np.unique(groups[~right])) == 1
    assert groups[0, 0] != groups[0, 29]
    odds = count_odds(groups, right, ~right)
    assert (odds[right] > 2).all()
    assert (odds[~right] < -2).all()


def test_even_points_of_a_square() -> None:
    points = even_points(np.array([[0.0, 0], [30, 0], [30, 30], [0, 30]]), spacing=5.0)
    np.testing.assert_allclose(points[:7], [[5.0 * i, 0] for i in range(7)])
    assert len(points) == 24


def test_loops_are_taken_out_and_nothing_else() -> None:
    rng = np.random.default_rng(8)
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    ring = np.column_stack([np.cos(angle), np.sin(angle)]) * 100.0
    np.testing.assert_array_equal(without_loops(ring), ring)
    tangled = ring + rng.normal(0, 6.0, ring.shape)  # points lie 5 apart, so that many sides cross
    assert not shapely.Polygon(tangled).is_valid
    freed = without_loops(tangled)
    assert shapely.Polygon(freed).is_valid
    assert shapely.Polygon(freed).area == pytest.approx(shapely.Polygon(ring).area, rel=0.1)


@pytest.mark.parametrize("off_mm", [-4.5, 0.0, 4.5])
def test_a_contour_snaps_to_the_edge(off_mm: float) -> None:
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    ring = np.column_stack([np.cos(angle), np.sin(angle)])
    flat = make_flat([(ring * 90.4, BLUE)])
    rough = flat.to_flat(ring * (90.4 + off_mm))
    snapped = flat.to_mm(snap_contour(rough, flat.picture, mm_per_px=flat.mm_per_px))
    radius = np.hypot(*snapped.T)
    assert np.median(radius) == pytest.approx(90.4, abs=0.4)  # the places tried lie 0.5 mm apart
    assert np.percentile(np.abs(radius - 90.4), 95) < 1.0


def test_the_shirt_mirrors_in_its_axis() -> None:
    mirrored = flats.SHIRT * [-1, 1]
    assert {tuple(p) for p in mirrored} == {tuple(p) for p in flats.SHIRT}


def test_features_are_finite_where_sums_end_below_zero(monkeypatch: pytest.MonkeyPatch) -> None:
    # seen on clipped white cloth: running sums left -3e-20, whose root ended the program
    def blur_with_rounding(picture: np.ndarray, size: tuple[int, int]) -> np.ndarray:
        return np.full(picture.shape, -3e-20, np.float32)

    monkeypatch.setattr(cv2, "blur", blur_with_rounding)
    assert np.isfinite(_features(np.full((20, 30, 3), 99.0, np.float32))).all()


@pytest.mark.parametrize(("turn_deg", "looks"), [(0.0, 2), (33.0, 2), (81.0, 4), (-74.0, 3)])
def test_a_garment_is_looked_at_until_it_stands_upright(
    monkeypatch: pytest.MonkeyPatch, turn_deg: float, looks: int
) -> None:
    shirt = turned(SHIRT, turn_deg, MIDDLE)
    views = []

    def glance(_: FlatView, view: View) -> Glance:
        """See the shirt exactly, but no more than 31 degrees of its turn."""
        views.append(view)
        cloth = np.full((view.px // 2, view.px // 2), -4.0, np.float32)
        points = np.round((view.to_px(shirt) / 2 - 0.5) * 16).astype(np.int32)
        cv2.fillPoly(cloth, [points], 4.0, shift=4)
        return Glance(
            view=view,
            p_motif=0.5,
            scores=np.zeros((1, 1), np.float32),
            boxes=np.zeros((1, 1, 4), np.float32),
            spreads=np.zeros((1, 1, 4), np.float32),
            cloth=cloth,
            turn_deg=float(np.clip(turn_deg - view.turn_deg, -31.0, 31.0)),
            steadiness=1.0,
        )

    monkeypatch.setattr("motiffit.measure.garment.glance_at", glance)
    seen = see_garment(make_flat([]))
    assert seen is not None
    assert seen.turn_deg == pytest.approx(turn_deg, abs=TURN_DEG)
    assert len(views) == looks  # one more only where it helps: a look is most of the time

"""The window's rules, as properties over many motifs, garments and settings."""

from math import cos, radians, sin

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon, box
from shapely.affinity import rotate, translate

from motiffit.measure.room import holds_square, missing_cloth, nearest_room
from motiffit.measure.window import P_CLEAR, SHORT_CODES, fit_empty, fit_window, probability_clear
from motiffit.record import Motif, Point, Sides
from motiffit.settings import Settings

SETTINGS = Settings()
SIDES = ("top", "right", "bottom", "left")
NOWHERE = np.zeros((0, 2))  # the garment's outline is not known
TOUCH_MM = 1e-4  # two routes through floating point agree to far better than a thread


def make_motif(
    width: float,
    height: float,
    *,
    sd: float = 1.0,
    centre: Point = (0.0, 0.0),
    angle: float = 0.0,
    edges: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0),
) -> Motif:
    return Motif(
        corners_px=(),
        centre_mm=centre,
        width_mm=width,
        height_mm=height,
        angle_deg=angle,
        sd_width_mm=sd,
        sd_height_mm=sd,
        sd_edges_mm=Sides(**dict(zip(SIDES, (sd * e for e in edges), strict=True))),
        trust=1.0,
    )


def square_round(centre: Point, side: float, angle: float) -> Polygon:
    flat = box(-side / 2, -side / 2, side / 2, side / 2)
    return translate(rotate(flat, angle, origin=(0, 0)), *centre)


def star(radii: list[float]) -> np.ndarray:
    turns = 2 * np.pi * np.arange(len(radii)) / len(radii)
    return np.stack([np.cos(turns), np.sin(turns)], axis=1) * np.asarray(radii)[:, None]


sides = st.floats(5, 260)
sds = st.floats(0, 8)
uneven = st.tuples(*[st.floats(0.05, 2)] * 4)
angles = st.floats(-180, 180)
outlines = st.lists(st.floats(30, 250), min_size=5, max_size=14).map(star)


def test_the_worked_case() -> None:
    # 92 mm and two clearances of 3.175 mm make 98.35 mm: 4 in (101.6 mm) is the first to hold it
    fit = fit_window(make_motif(92, 60, sd=0.1), NOWHERE, SETTINGS)
    assert fit.finished_mm == pytest.approx(101.6)
    assert fit.clearance_mm == Sides(
        top=pytest.approx(20.8), right=pytest.approx(4.8), bottom=pytest.approx(20.8),
        left=pytest.approx(4.8),
    )  # fmt: skip
    assert fit.messages == ()


@given(sides, sides, sds)
def test_no_smaller_size_would_do(width: float, height: float, sd: float) -> None:
    fit = fit_window(make_motif(width, height, sd=sd), NOWHERE, SETTINGS)
    assert fit.finished_mm is not None
    clearing = [size.finished_mm for size in fit.sizes if size.clears]
    if clearing:
        assert fit.finished_mm == min(clearing)
        assert fit.p_clear is not None
        assert fit.p_clear >= P_CLEAR
    else:
        assert fit.finished_mm == SETTINGS.sizes_mm[-1]
        assert [m.code for m in fit.messages] in (["motif-too-large"], ["motif-maybe-too-large"])


@given(sides, sides, sds)
def test_larger_sizes_are_safer(width: float, height: float, sd: float) -> None:
    chances = [
        s.p_clear for s in fit_window(make_motif(width, height, sd=sd), NOWHERE, SETTINGS).sizes
    ]
    assert chances == sorted(chances)


@given(sides, sides, sds, outlines, angles, angles, uneven)
def test_a_proposed_seam_never_crosses_the_motif(
    width: float, height: float, sd: float, outline: np.ndarray, angle: float, turn: float,
    edges: tuple[float, float, float, float],
) -> None:  # fmt: skip
    motif = make_motif(width, height, sd=sd, centre=(3.0, -8.0), angle=angle, edges=edges)
    fit = fit_window(motif, outline @ _turn(turn).T, SETTINGS)
    assume(not any("too-large" in m.code for m in fit.messages))
    assert fit.finished_mm is not None
    seam = Polygon(fit.square_corners(fit.finished_mm))
    drawn = translate(
        rotate(box(-width / 2, -height / 2, width / 2, height / 2), angle, origin=(0, 0)), 3.0, -8.0
    )
    assert seam.buffer(TOUCH_MM).contains(drawn)
    assert fit.clearance_mm is not None
    assert fit.clearance_mm.least() >= SETTINGS.clearance_mm - TOUCH_MM
    assert fit.p_clear is not None
    assert fit.p_clear >= P_CLEAR - 1e-9


@given(sides, sides, outlines, st.floats(-20, 20), st.floats(-20, 20))
def test_cloth_lies_under_the_cut_square_or_the_lack_is_told(
    width: float, height: float, outline: np.ndarray, x: float, y: float
) -> None:
    fit = fit_window(make_motif(width, height, centre=(x, y)), outline, SETTINGS)
    assert fit.finished_mm is not None
    cut = square_round(fit.centre_mm, fit.finished_mm + 2 * SETTINGS.seam_allowance_mm, 0)
    codes = {m.code for m in fit.messages}
    if not codes & SHORT_CODES:
        missing = cut.difference(
            Polygon(outline).buffer(1.2)
        )  # what is not reported, on a diagonal
        assert missing.area < 1e-6
    else:
        assert not Polygon(outline).contains(cut)
        short, half = fit.cloth_short_mm, fit.finished_mm / 2 + SETTINGS.seam_allowance_mm
        kept = box(short.left - half, short.top - half, half - short.right, half - short.bottom)
        whole = translate(kept, *fit.centre_mm)
        assert whole.difference(Polygon(outline).buffer(1.2)).area < 1e-6
        assert max(fit.cloth_short_mm.top, fit.cloth_short_mm.right,
                   fit.cloth_short_mm.bottom, fit.cloth_short_mm.left) > 0.8  # fmt: skip


def test_what_a_seam_cannot_tell_is_no_missing_cloth() -> None:
    # cut square of 4 1/2 in, 57.15 mm to each side: 18.15 mm missing above, 0.4 mm on the right
    outline = np.array([[-60.0, -39.0], [56.75, -39.0], [56.75, 300.0], [-60.0, 300.0]])
    fit = fit_window(make_motif(78, 72), outline, Settings(sizes_mm=(101.6,)))
    assert fit.cloth_short_mm == Sides(top=pytest.approx(18.15), right=0, bottom=0, left=0)
    (message,) = fit.messages
    assert "11/16 in at the top." in message.text


@given(sides, sides, sds, outlines, angles, st.floats(-300, 300), st.floats(-300, 300))
def test_turning_and_moving_everything_changes_nothing(
    width: float, height: float, sd: float, outline: np.ndarray, turn: float, dx: float,
    dy: float,
) -> None:  # fmt: skip
    one = fit_window(make_motif(width, height, sd=sd), outline, SETTINGS)
    moved = outline @ _turn(turn).T + (dx, dy)
    other = fit_window(
        make_motif(width, height, sd=sd, centre=(dx, dy), angle=turn), moved, SETTINGS
    )
    assert other.finished_mm == one.finished_mm
    assert other.p_clear == pytest.approx(one.p_clear, abs=1e-6)
    assert [m.code for m in other.messages] == [m.code for m in one.messages]


def _turn(angle_deg: float) -> np.ndarray:
    c, s = cos(radians(angle_deg)), sin(radians(angle_deg))
    return np.array([[c, -s], [s, c]])


@given(outlines, st.lists(st.tuples(st.floats(-80, 80), st.floats(-80, 80)), min_size=1),
       st.floats(2, 90))  # fmt: skip
def test_room_agrees_with_shapely(outline: np.ndarray, centres: list[Point], half: float) -> None:
    # oracle: shapely 2 (GEOS), an independent geometry library
    told = holds_square(outline, np.asarray(centres, float), half)
    for centre, answer in zip(centres, told, strict=True):
        square = square_round(centre, 2 * half, 0)
        if answer:
            assert Polygon(outline).buffer(TOUCH_MM).covers(square)
        else:
            grown = square_round(centre, 2 * (half + TOUCH_MM), 0)
            assert not Polygon(outline).covers(grown)


@given(outlines, st.floats(5, 60), st.floats(-60, 60), st.floats(-60, 60))
def test_the_least_move_is_the_least(outline: np.ndarray, half: float, x: float, y: float) -> None:
    centre = np.array([x, y])
    reach = np.array([40.0, 25.0])
    spot = nearest_room(outline, centre, half, -reach, reach)
    # brute force over a grid: nothing nearer fits, and where nothing is found nothing is there
    grid = np.stack(np.meshgrid(np.linspace(-1, 1, 33), np.linspace(-1, 1, 33)), axis=-1)
    tries = centre + grid.reshape(-1, 2) * reach
    fitting = tries[holds_square(outline, tries, half + 1e-3)]
    if spot is None:
        assert len(fitting) == 0
        return
    assert (np.abs(spot - centre) <= reach + TOUCH_MM).all()
    assert holds_square(outline, spot[None], half - TOUCH_MM)[0]
    if len(fitting):
        nearest = np.linalg.norm(fitting - centre, axis=1).min()
        assert np.linalg.norm(spot - centre) <= nearest + TOUCH_MM


def test_missing_cloth_on_one_side() -> None:
    cloth = np.array([[-100.0, -30], [100, -30], [100, 100], [-100, 100]])
    short = missing_cloth(cloth, np.zeros(2), 60.0, np.array([20.0, 20.0]))
    assert short == Sides(top=pytest.approx(30), right=0, bottom=0, left=0)


def test_missing_corner_goes_to_one_side_only() -> None:
    # an armhole bites 10 x 25 mm off the top right corner: 10 mm less width keeps more cloth
    cloth = np.array([[-100.0, -100], [50, -100], [50, -35], [100, -35], [100, 100], [-100, 100]])
    short = missing_cloth(cloth, np.zeros(2), 60.0, np.array([20.0, 20.0]))
    assert short.top == 0
    assert short.right == pytest.approx(10)


def test_cloth_that_ends_within_the_motif_is_still_told() -> None:
    cloth = np.array([[-100.0, -100], [15, -100], [15, 100], [-100, 100]])
    short = missing_cloth(cloth, np.zeros(2), 60.0, np.array([20.0, 20.0]))
    assert short == Sides(top=0, right=pytest.approx(45), bottom=0, left=0)


def test_a_shift_heeds_the_blunt_edge() -> None:
    # the right edge is blunt: a move to the left brings the seam line towards it
    cloth = np.array([[-150.0, -150], [41.0, -150], [41.0, 150], [-150.0, 150]])
    motif = make_motif(60, 60, edges=(0.1, 2.0, 0.1, 0.1))
    fit = fit_window(motif, cloth, SETTINGS)
    assert fit.p_clear is not None
    assert fit.p_clear >= P_CLEAR
    assert [m.code for m in fit.messages] == ["cloth-short"]


@pytest.mark.parametrize(
    ("cloth_ends_mm", "code"),
    # finished 3 in: the seam line lies at 38.1 mm; where the cloth ends e mm from the middle, the
    # seam of a piece sewn to it lies one allowance inside, at e - 6.35 mm; the motif ends at 30 mm
    [(37.0, "cloth-short"), (36.0, "cloth-short-at-motif")],
)
def test_a_seam_that_would_run_through_the_motif_is_told(cloth_ends_mm: float, code: str) -> None:
    end = cloth_ends_mm
    cloth = np.array([[-150.0, -150.0], [end, -150.0], [end, 150.0], [-150.0, 150.0]])
    fit = fit_window(make_motif(60, 60), cloth, SETTINGS)
    assert fit.finished_mm == pytest.approx(76.2)
    assert [message.code for message in fit.messages] == [code]


def test_a_middle_off_the_cloth_is_doubtful_not_short() -> None:
    cloth = np.array([[-100.0, -100], [-10, -100], [-10, 100], [-100, 100]])
    fit = fit_window(make_motif(60, 60), cloth, SETTINGS)
    assert [m.code for m in fit.messages] == ["garment-unclear"]


def test_a_motif_that_the_largest_size_may_hold() -> None:
    fit = fit_window(make_motif(220, 220, sd=2), NOWHERE, SETTINGS)
    assert [m.code for m in fit.messages] == ["motif-maybe-too-large"]
    assert "9 1/2 in would" in fit.messages[0].text


def test_a_measure_that_is_no_number_is_never_sure() -> None:
    nothing = Sides(top=float("nan"), right=9, bottom=9, left=9)
    assert probability_clear(nothing, Sides(top=0, right=0, bottom=0, left=0), 3.0) == 0.0


def test_a_motif_off_the_outline_is_doubtful() -> None:
    cloth = np.array([[500.0, -100.0], [700.0, -100.0], [700.0, 100.0], [500.0, 100.0]])
    fit = fit_window(make_motif(50, 50), cloth, SETTINGS)
    assert [m.code for m in fit.messages] == ["garment-unclear"]


def test_a_small_move_is_preferred_to_an_extension() -> None:
    # the 4 in centre cuts at 57.15 mm to each side; the cloth ends at 55 mm on the right, and the
    # motif leaves no room to stop short of its edge
    cloth = np.array([[-150.0, -150.0], [55.0, -150.0], [55.0, 150.0], [-150.0, 150.0]])
    fit = fit_window(make_motif(88, 60, sd=0.5), cloth, SETTINGS)
    assert [m.code for m in fit.messages] == ["cloth-scant", "window-shifted"]
    assert fit.centre_mm == (pytest.approx(-2.15), pytest.approx(0.0))
    assert fit.clearance_mm is not None
    assert fit.clearance_mm.right == pytest.approx(101.6 / 2 - 44 - 2.15)


def test_a_moved_square_stops_short_of_the_hem_where_there_is_room() -> None:
    # common practice, no source: nobody seams on the very edge of a garment
    cloth = np.array([[-150.0, -150.0], [55.0, -150.0], [55.0, 150.0], [-150.0, 150.0]])
    roomy = Settings(sizes_mm=(101.6,))
    fit = fit_window(make_motif(40, 40, sd=0.5), cloth, roomy)
    assert fit.centre_mm == (pytest.approx(-2.15 - 6.0), pytest.approx(0.0))


@pytest.mark.parametrize(
    ("width", "cloth_ends_mm", "moved_mm", "codes"),
    # finished 4 in: the cut square ends at 57.15 mm and may move by 7.6 mm less half of what the
    # width is over 80 mm, less some for the motif's sd
    [
        (76.0, 60.5, 0.0, []),  # 3.35 mm to spare: left where it is
        (76.0, 59.0, 4.15, ["window-shifted"]),  # 1.85 mm: moved until 6 mm are
        (80.0, 56.5, 3.65, ["window-shifted"]),  # no room for 6 mm, but for 3 mm
        (90.0, 57.3, 0.0, ["cloth-scant"]),  # 0.15 mm to spare and no room to move for more
        (92.0, 56.4, 0.0, ["cloth-scant"]),  # 0.75 mm lacks: no piece is worth it, but a look is
    ],
)
def test_a_square_near_the_garments_edge_is_moved_or_told(
    width: float, cloth_ends_mm: float, moved_mm: float, codes: list[str]
) -> None:
    end = cloth_ends_mm
    cloth = np.array([[-150.0, -150.0], [end, -150.0], [end, 150.0], [-150.0, 150.0]])
    fit = fit_window(make_motif(width, 60, sd=0.5), cloth, Settings(sizes_mm=(101.6,)))
    assert fit.centre_mm == (pytest.approx(-moved_mm), pytest.approx(0.0))
    assert [m.code for m in fit.messages] == codes


@given(outlines, angles)
def test_without_a_motif_the_largest_size_that_fits(outline: np.ndarray, angle: float) -> None:
    fit = fit_empty(outline, angle, SETTINGS)
    if fit.finished_mm is None:
        assert [m.code for m in fit.messages] == ["no-cloth-for-any"]
        return
    allowance = 2 * SETTINGS.seam_allowance_mm
    cut = Polygon(fit.square_corners(fit.finished_mm + allowance))
    assert Polygon(outline).buffer(TOUCH_MM).covers(cut)


@given(st.floats(-20, 20), st.floats(0.1, 5))
def test_probability_against_scipy(spare: float, sd: float) -> None:
    # oracle: scipy.stats.norm
    from scipy.stats import norm

    edges = Sides(top=spare, right=100, bottom=100, left=100)
    deviation = Sides(top=sd, right=1, bottom=1, left=1)
    assert probability_clear(edges, deviation, 0.0) == pytest.approx(
        norm.cdf(spare / sd), abs=1e-12
    )


@pytest.mark.parametrize(("half_mm", "lacks"), [(200.0, False), (130.0, True)])
def test_a_size_that_would_do_is_not_praised_where_its_cloth_is_missing(
    half_mm: float, lacks: bool
) -> None:
    # 240 mm and both clearances make 246.35 mm: 10 in (254 mm) is the first half inch to hold it,
    # and its cut square of 266.7 mm needs 133.4 mm of cloth on either side
    cloth = half_mm * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    (message, *_) = fit_window(make_motif(240, 90, sd=0.1), cloth, SETTINGS).messages
    assert message.code == "motif-too-large"
    assert "10 in would do" in message.text
    assert ("no cloth for that" in message.text) == lacks

"""The plane: exact where all is known, honest about its doubt where it is not."""

from dataclasses import replace
from typing import Any

import cv2
import numpy as np
import pytest
from camera import Camera
from numpy.typing import NDArray
from simulated import Sight
from skimage.transform import ProjectiveTransform

from motiffit.errors import Refusal
from motiffit.measure.edges import Marks
from motiffit.measure.plane import Plane, _covariance, solve_plane
from motiffit.measure.pose import explain, make_problem
from motiffit.record import make_message

EXACT_MM = 0.02  # what rounding and the stop of the iteration leave of exact data, at 300 mm
CLOTH_MM = 3.0  # the height that the plane expects
SOME_PX = np.array(
    [[100.0, 200.0], [1500.0, 90.0], [1400.0, 1100.0], [300.0, 1000.0], [806.0, 604.0]]
)

exact_sights = pytest.mark.parametrize("tilt_deg", [0.0, 4.0, 12.0, 25.0, 40.0])


def exact(tilt_deg: float, **changes: Any) -> Sight:
    """A sight in which everything is as the plane expects beforehand."""
    camera = Camera(tilt_deg=tilt_deg, azimuth_deg=35.0, aim_mm=(130.0, 20.0), distance_mm=590.0)
    return Sight(camera=camera, **changes)


def distances(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.linalg.norm(points[:, None] - points[None], axis=-1)


@exact_sights
def test_exact_marks_give_exact_distances(tilt_deg: float) -> None:
    sight = exact(tilt_deg)
    plane = solve_plane(sight.found(), sight.photo())
    truth = sight.camera.unproject(SOME_PX, CLOTH_MM)
    np.testing.assert_allclose(distances(plane.to_mm(SOME_PX)), distances(truth), atol=EXACT_MM)
    assert plane.tilt_deg == pytest.approx(tilt_deg, abs=0.02)
    assert plane.focal_px == pytest.approx(sight.camera.focal_px, rel=1e-4)
    assert plane.height_mm == CLOTH_MM


def test_a_wrong_camera_is_noticed_by_that_comparison() -> None:
    sight = exact(12.0)
    plane = solve_plane(sight.found(), sight.photo())
    truth = replace(sight.camera, tilt_deg=12.5).unproject(SOME_PX, CLOTH_MM)
    assert np.abs(distances(plane.to_mm(SOME_PX)) - distances(truth)).max() > 20 * EXACT_MM


@exact_sights
def test_places_and_pixels_round_trip(tilt_deg: float) -> None:
    sight = exact(tilt_deg)
    plane = solve_plane(sight.found(), sight.photo())
    plane = replace(plane, distortion=0.03, principal_px=np.array([9.0, -4.0]))
    np.testing.assert_allclose(plane.to_px(plane.to_mm(SOME_PX)), SOME_PX, atol=1e-6)


@exact_sights
def test_the_map_is_that_of_scikit_image(tilt_deg: float) -> None:
    sight = exact(tilt_deg)
    plane = solve_plane(sight.found(), sight.photo())
    corners = sight.camera.project(
        np.array([[-90, -80], [300, -70], [310, 200], [-60, 190.0]]), 3.0
    )
    oracle = ProjectiveTransform.from_estimate(corners, sight.camera.unproject(corners, CLOTH_MM))
    np.testing.assert_allclose(
        distances(plane.to_mm(SOME_PX)), distances(oracle(SOME_PX)), atol=EXACT_MM
    )


def test_the_digest_is_the_same_map() -> None:
    sight = exact(15.0)
    plane = solve_plane(sight.found(), sight.photo())
    plane = replace(plane, distortion=-0.04, principal_px=np.array([-6.0, 11.0]))
    digest = plane.digest()
    lens = np.array(
        [
            [plane.focal_px, 0, plane.middle_px[0]],
            [0, plane.focal_px, plane.middle_px[1]],
            [0, 0, 1],
        ]
    )
    until = (cv2.TERM_CRITERIA_MAX_ITER | cv2.TERM_CRITERIA_EPS, 100, 1e-12)
    freed = cv2.undistortPoints(
        SOME_PX[:, None], lens, np.array([-0.04, 0, 0, 0]), P=lens, criteria=until
    )
    mapped = ProjectiveTransform(np.array(digest.px_to_mm))(freed.reshape(-1, 2))
    np.testing.assert_allclose(mapped, plane.to_mm(SOME_PX), atol=1e-6)
    assert (digest.tilt_deg, digest.height_mm) == (plane.tilt_deg, CLOTH_MM)
    assert (digest.focal_px, digest.distortion) == (plane.focal_px, -0.04)


@pytest.mark.parametrize("turn_deg", [-160.0, -50.0, 0.0, 30.0, 44.0, 89.0])
def test_the_frame_lies_as_the_photo_does(turn_deg: float) -> None:
    sight = exact(14.0, turn_deg=turn_deg)
    plane = solve_plane(sight.found(), sight.photo())
    middle = (np.array([sight.camera.width_px, sight.camera.height_px]) - 1) / 2
    steps = np.array([[-1.0, 0.0], [0.0, 0.0], [1.0, 0.0], [0.0, 1.0]])
    before, here, after, below = plane.to_mm(middle + steps)
    along = after - before
    assert along[0] > 0
    assert abs(along[1] / along[0]) < 1e-6
    assert below[1] > here[1]
    # the origin is the middle of the square, on the square's own plane
    centre_px = sight.camera.project(np.zeros((1, 2)))
    np.testing.assert_allclose(plane.at_height(0, 0).to_px([[0, 0]]), centre_px, atol=0.02)


def test_turning_the_photo_changes_no_distance() -> None:
    sight = exact(17.0)
    found, photo = sight.found(), sight.photo()
    usual = solve_plane(found, photo)

    def quarter(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.column_stack([points[:, 1], photo.width_px - 1 - points[:, 0]])

    marks = replace(found.marks, points_px=quarter(found.marks.points_px))
    turned = solve_plane(
        replace(found, corners_px=quarter(found.corners_px), marks=marks),
        replace(photo, width_px=photo.height_px, height_px=photo.width_px),
    )
    np.testing.assert_allclose(
        distances(turned.to_mm(quarter(SOME_PX))), distances(usual.to_mm(SOME_PX)), atol=1e-3
    )


def test_enlarging_the_photo_changes_no_distance() -> None:
    sight = exact(17.0)
    found, photo = sight.found(), sight.photo()
    usual = solve_plane(found, photo)

    def doubled(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return (points + 0.5) * 2 - 0.5

    marks = Marks(
        points_px=doubled(found.marks.points_px),
        axis=found.marks.axis.copy(),
        coordinate=found.marks.coordinate.copy(),
        toward_dark=found.marks.toward_dark.copy(),
        sd_px=found.marks.sd_px * 2,
    )
    large = solve_plane(
        replace(found, corners_px=doubled(found.corners_px), marks=marks),
        replace(photo, width_px=2 * photo.width_px, height_px=2 * photo.height_px, full_per_px=2.0),
    )
    np.testing.assert_allclose(
        distances(large.to_mm(doubled(SOME_PX))), distances(usual.to_mm(SOME_PX)), atol=1e-3
    )


def level() -> Plane:
    sight = exact(0.0)
    return solve_plane(sight.found(), sight.photo())


def test_height_scales_by_distance() -> None:
    # from straight above at 590 mm, cloth h higher shows its lengths 590 / (590 - h) as large
    plane = level()
    flat, raised = (distances(plane.at_height(h, 0).to_mm(SOME_PX)) for h in (0.0, 10.0))
    np.testing.assert_allclose(raised, flat * (590 - 10) / 590, rtol=1e-4)


def test_doubt_of_the_height_is_carried_on() -> None:
    plane = level()
    a, b = np.array([[100.0, 0.0]]), np.array([[250.0, 0.0]])
    known, unknown = (plane.at_height(CLOTH_MM, sd).length_sd_mm(a, b)[0] for sd in (0.0, 2.0))
    assert np.sqrt(unknown**2 - known**2) == pytest.approx(150 * 2 / (590 - CLOTH_MM), rel=1e-3)


def test_doubt_grows_with_distance_from_the_square() -> None:
    plane = level()
    near, far = plane.length_sd_mm([[80, -50], [250, -50]], [[80, 50], [250, 50]])
    assert far > 1.2 * near
    one = plane.length_sd_mm([80, -50], [80, 50])
    assert one.shape == (1,)
    assert one[0] == pytest.approx(near)


def draw(rng: np.random.Generator, tilt_deg: float, *, noted: bool, **changes: Any) -> Sight:
    """A sight whose camera, paper and noise are drawn from what the plane takes for granted."""
    camera = Camera(
        tilt_deg=tilt_deg,
        azimuth_deg=rng.uniform(0, 360),
        focal_35mm=26.0 * np.exp(rng.normal(0, 0.03 if noted else 0.12)),
        aim_mm=(160.0, -40.0),
        distance_mm=620.0,
        distortion=rng.normal(0, 0.02),
    )
    stated_mm = float(changes.pop("stated_mm", 101.6))
    spread = 1.0 if changes.get("kind", "card") == "card" else 0.25
    return Sight(
        camera=camera,
        stated_mm=stated_mm,
        side_mm=stated_mm * np.exp(rng.normal(0, 0.001)),
        turn_deg=rng.uniform(-180, 180),
        bend_mm=tuple(rng.normal(0, [0.3, 0.3, 0.7, 0.4, 0.7])),
        principal_px=tuple(rng.normal(0, 0.003 * np.hypot(1613, 1209), 2)),
        bleed_px=tuple(rng.normal(0.3 if spread == 1.0 else 0.15, min(spread, 0.4), 2)),
        **changes,
    )


def trial(
    rng: np.random.Generator, sight: Sight, *, noted: bool, height_sd_mm: float = 2.0
) -> tuple[float, float]:
    """Error and stated sd (mm) of a length of 150 mm that lies 250 mm from the card."""
    plane = solve_plane(sight.found(rng), sight.photo(26.0 if noted else None))
    angle = rng.uniform(0, np.pi)
    half = 75 * np.array([np.cos(angle), np.sin(angle)])
    middle = 250 * np.array([np.cos(-0.25), np.sin(-0.25)])
    height_mm = rng.normal(3, height_sd_mm)
    ends = plane.to_mm(sight.project(np.array([middle - half, middle + half]), height_mm))
    length = float(np.linalg.norm(ends[1] - ends[0]))
    return length - 150, float(plane.length_sd_mm(ends[0], ends[1])[0])


TRIALS = 120
# of 120 draws, the share within 1.96 sd has an sd of 2 %: three of those below 95 %
LEAST_COVERED = 0.89
# and their rms one of 6.5 %
RMS_BAND = (0.8, 1.2)


@pytest.mark.parametrize(
    ("noted", "changes"),
    [
        (True, {}),
        (False, {}),
        (True, {"sd_px": 0.25}),
        (False, {"sd_px": 0.25, "stated_mm": 50.8}),
        (True, {"kind": "square", "stated_mm": 76.2}),
    ],
)
def test_stated_deviations_hold(noted: bool, changes: dict[str, Any]) -> None:
    rng = np.random.default_rng(11)
    tilts = np.linspace(0, 25, TRIALS)
    rows = [trial(rng, draw(rng, tilt, noted=noted, **changes), noted=noted) for tilt in tilts]
    error, sd = np.array(rows).T
    share = error / sd
    assert RMS_BAND[0] < np.sqrt(np.mean(share**2)) < RMS_BAND[1]
    assert np.mean(np.abs(share) < 1.96) >= LEAST_COVERED
    assert abs(np.mean(share)) < 0.3


def test_errors_are_small_where_the_card_is_good() -> None:
    rng = np.random.default_rng(12)
    tilts = np.linspace(0, 25, 60)
    flat = [
        replace(draw(rng, tilt, noted=True), bend_mm=(0.0,) * 5, side_mm=101.6) for tilt in tilts
    ]
    # the heights of `scenes.make_scene`, 1.5 to 4.5 mm, have an sd of 0.87 mm
    errors = np.abs([trial(rng, sight, noted=True, height_sd_mm=0.87)[0] for sight in flat])
    assert np.median(errors) <= 0.4  # mm, asked for
    assert np.percentile(errors, 95) <= 1.6  # a sixteenth of an inch


def test_priors_are_worth_it() -> None:
    """A bare homography of the same corners is several times worse on a bent card (design.md)."""
    rng = np.random.default_rng(13)
    ours, bare = [], []
    for tilt in np.linspace(0, 25, 40):
        sight = draw(rng, tilt, noted=True)
        found = sight.found(rng)
        ends = np.array([[180.0, -60.0], [330.0, -60.0]])
        seen = sight.project(ends, CLOTH_MM)
        plane = solve_plane(found, sight.photo())
        ours.append(np.linalg.norm(np.subtract(*plane.to_mm(seen))) - 150)
        corners = 50.8 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
        oracle = ProjectiveTransform.from_estimate(found.corners_px, corners)
        bare.append(np.linalg.norm(np.subtract(*oracle(seen))) - 150)
    assert np.median(np.abs(bare)) > 2 * np.median(np.abs(ours))


def test_a_few_wrong_marks_are_left_out() -> None:
    sight = exact(13.0)
    found, photo = sight.found(np.random.default_rng(1)), sight.photo()
    points = found.marks.points_px.copy()
    points[::12] += np.array([3.0, -2.0])
    spoiled = replace(found, marks=replace(found.marks, points_px=points))
    usual, robust = solve_plane(found, photo), solve_plane(spoiled, photo)
    np.testing.assert_allclose(
        distances(robust.to_mm(SOME_PX)), distances(usual.to_mm(SOME_PX)), rtol=2e-3
    )


def test_a_crumpled_card_is_mentioned() -> None:
    sight = exact(10.0)
    found = sight.found(np.random.default_rng(2))
    points = found.marks.points_px + np.random.default_rng(3).normal(
        0, 1.0, (len(found.marks.axis), 2)
    )
    plane = solve_plane(replace(found, marks=replace(found.marks, points_px=points)), sight.photo())
    assert "reference-bent" in [message.code for message in plane.messages]
    usual = solve_plane(found, sight.photo())
    a, b = [100.0, 0.0], [250.0, 0.0]
    assert plane.length_sd_mm(a, b)[0] > 1.5 * usual.length_sd_mm(a, b)[0]


def test_a_curled_card_is_mentioned() -> None:
    flat, curled = exact(15.0), replace(exact(15.0), bend_mm=(0.0, 0.0, 3.5, 0.0, 0.0))
    rng = np.random.default_rng(4)
    assert solve_plane(flat.found(rng), flat.photo()).messages == ()
    plane = solve_plane(curled.found(rng), curled.photo())
    assert [message.code for message in plane.messages] == ["reference-bent"]


def test_messages_say_what_is_doubtful() -> None:
    upright, leaning = exact(5.0), exact(38.0)
    assert solve_plane(upright.found(), upright.photo()).messages == ()
    codes = [m.code for m in solve_plane(leaning.found(), leaning.photo(None)).messages]
    assert codes == ["focal-unknown", "tilted"]


@pytest.mark.parametrize(("true_mm", "noted_mm"), [(52.0, 52.0), (77.0, 77.0), (26.0, 77.0)])
def test_a_doubtful_focal_length_is_kept_where_the_square_confirms_it(
    true_mm: float, noted_mm: float
) -> None:
    rng = np.random.default_rng(15)
    errors, confirmed = [], []
    for tilt in np.linspace(12, 25, 24):
        sight = draw(rng, tilt, noted=True)
        camera = replace(
            sight.camera,
            focal_35mm=sight.camera.focal_35mm * true_mm / 26,
            distance_mm=sight.camera.distance_mm * true_mm / 26,
        )
        sight = replace(sight, camera=camera, sd_px=0.1)
        photo = replace(sight.photo(None), focal_rivals_35mm=(noted_mm,))
        plane = solve_plane(sight.found(rng), photo)
        ends = plane.to_mm(sight.project(np.array([[180.0, -60.0], [330.0, -60.0]]), CLOTH_MM))
        errors.append(abs(np.linalg.norm(ends[1] - ends[0]) - 150))
        confirmed.append("focal-unknown" not in [message.code for message in plane.messages])
    # with the usual focal length alone 95 % are within 2.5 mm at 52 mm and 4.1 mm at 77 mm
    assert np.percentile(errors, 95) < 1.6  # mm, a sixteenth of an inch
    assert np.mean(confirmed) == float(true_mm == noted_mm)


@pytest.mark.parametrize("noted", [True, False])
def test_a_photo_cut_by_hand_is_measured_with_the_doubt_of_its_axis(noted: bool) -> None:
    rng = np.random.default_rng(16)
    rows = []
    for tilt in np.linspace(0, 22, 60):
        sight = draw(rng, tilt, noted=noted)
        camera = sight.camera
        whole = np.array([camera.width_px, camera.height_px])
        kept = (whole * rng.uniform(0.8, 0.97) * (1.0, rng.uniform(0.8, 0.86))).astype(int)
        # the axis stays where it was in the whole photo, the middle does not
        moved = rng.uniform(-0.5, 0.5, 2) * (whole - kept)
        cut = replace(
            sight,
            camera=replace(
                camera,
                width_px=int(kept[0]),
                height_px=int(kept[1]),
                focal_35mm=camera.focal_35mm * np.hypot(*whole) / np.hypot(*kept),
                distortion=0.0,
            ),
            principal_px=(sight.principal_px[0] + moved[0], sight.principal_px[1] + moved[1]),
        )
        rows.append(trial(rng, cut, noted=noted))
    error, sd = np.array(rows).T
    # with the axis held to the middle as in a whole photo: 9 to 11 mm, and 60 % covered
    assert np.percentile(np.abs(error), 95) < 3.2  # mm, an eighth of an inch
    assert np.mean(np.abs(error / sd) < 1.96) >= LEAST_COVERED


def test_an_oblique_view_is_refused() -> None:
    sight = exact(62.0)
    with pytest.raises(Refusal) as caught:
        solve_plane(sight.found(), sight.photo())
    assert caught.value.code == "reference-too-oblique"
    text = make_message(caught.value.code, **caught.value.details).text
    assert "62 degrees" in text


def test_two_poses_that_explain_a_small_square_widen_the_doubt() -> None:
    # near affine: which way a small square leans hardly shows (Collins and Bartoli, 2014)
    rng = np.random.default_rng(14)
    shares = []
    for tilt in np.linspace(5, 20, 60):
        sight = draw(rng, tilt, noted=True, stated_mm=20.0, sd_px=0.3)
        error, sd = trial(rng, sight, noted=True)
        shares.append(error / sd)
    assert np.mean(np.abs(shares) < 1.96) > 0.88
    assert np.abs(shares).max() < 5


def test_marks_that_fix_no_plane_are_refused() -> None:
    sight = exact(5.0)
    found = sight.found()
    corners = np.repeat(found.corners_px[:1], 4, axis=0)
    with pytest.raises(Refusal):
        solve_plane(replace(found, corners_px=corners), sight.photo())


def test_arrays_are_read_only() -> None:
    plane = level()
    for array in (
        plane.middle_px,
        plane.principal_px,
        plane.rotation,
        plane.place_mm,
        plane.covariance,
    ):
        assert not array.flags.writeable
    assert not plane.at_height(0, 1).covariance.flags.writeable


def test_the_unit_of_an_unknown_decides_nothing() -> None:
    # photos of 24 million pixels were refused when the condition was that of mixed units
    sight = Sight()
    problem = make_problem(sight.found(), sight.photo())
    best = explain([problem], sight.found())[0]
    usual = _covariance([best])
    unit = np.logspace(-8, 8, len(best.normal))
    finer = _covariance([replace(best, normal=best.normal * np.outer(unit, unit))])
    count, sd = len(unit), np.sqrt(np.diag(usual))[: len(unit)]
    same = finer[:count, :count] * np.outer(unit, unit)
    assert same / np.outer(sd, sd) == pytest.approx(
        usual[:count, :count] / np.outer(sd, sd), abs=1e-4
    )

"""The flat view: every pixel shows the place that it says it shows."""

from dataclasses import replace

import numpy as np
import pytest
from camera import Camera
from numpy.typing import NDArray
from simulated import Sight

from motiffit.measure.flatview import FlatView, rectify
from motiffit.measure.photo import Photo
from motiffit.measure.plane import Plane, solve_plane

LEVELS = 1.5  # grey levels: rounding of the photo, of the flat view, and of its map


def slopes(width: int, height: int) -> NDArray[np.uint8]:
    """Red grows to the right, green downwards: a pixel's colour tells where it is from."""
    x, y = np.meshgrid(np.linspace(0, 255, width), np.linspace(0, 255, height))
    return np.dstack([x, y, np.full_like(x, 99)]).round().astype(np.uint8)


def flat_of(
    camera: Camera, picture: NDArray[np.uint8], full_per_px: float = 1.0
) -> tuple[FlatView, Plane, Photo]:
    sight = Sight(camera=camera)
    photo = replace(sight.photo(), picture=picture, full_per_px=full_per_px)
    plane = replace(solve_plane(sight.found(), photo), distortion=camera.distortion)
    return rectify(photo, plane), plane, photo


def usual_camera(tilt_deg: float = 15.0, distortion: float = 0.0) -> Camera:
    return Camera(tilt_deg=tilt_deg, azimuth_deg=50.0, aim_mm=(140.0, 10.0), distortion=distortion)


@pytest.mark.parametrize("tilt_deg", [0.0, 15.0, 35.0])
@pytest.mark.parametrize("distortion", [-0.05, 0.0, 0.05])
def test_pixels_show_what_they_say(tilt_deg: float, distortion: float) -> None:
    camera = usual_camera(tilt_deg, distortion)
    flat, plane, photo = flat_of(camera, slopes(camera.width_px, camera.height_px))
    rows, columns = np.nonzero(flat.valid)
    some = np.random.default_rng(1).choice(len(rows), 4000)
    rows, columns = rows[some], columns[some]
    x, y = plane.to_px(flat.to_mm(np.column_stack([columns, rows]))).T
    inside = (x > 1) & (y > 1) & (x < photo.width_px - 2) & (y < photo.height_px - 2)
    shown = flat.picture[rows, columns].astype(float)
    expected = np.column_stack([x / (photo.width_px - 1), y / (photo.height_px - 1)]) * 255
    assert np.abs(shown[inside, :2] - expected[inside]).max() < LEVELS
    assert inside.mean() > 0.99


def test_a_shifted_map_would_be_noticed() -> None:
    camera = usual_camera()
    flat, plane, photo = flat_of(camera, slopes(camera.width_px, camera.height_px))
    rows, columns = np.nonzero(flat.valid)
    x, _ = plane.to_px(flat.to_mm(np.column_stack([columns + 16, rows]))).T
    expected = x / (photo.width_px - 1) * 255
    assert np.median(np.abs(flat.picture[rows, columns, 0] - expected)) > LEVELS


def test_valid_is_where_the_photo_looks() -> None:
    camera = usual_camera(25.0)
    flat, plane, photo = flat_of(camera, slopes(camera.width_px, camera.height_px))
    rows, columns = np.indices(flat.valid.shape)
    px = plane.to_px(flat.to_mm(np.column_stack([columns.ravel(), rows.ravel()])))
    clear_px = 0.5  # the map is interpolated: leave its rim out
    within = ((px > -clear_px) & (px < [photo.width_px - 0.5, photo.height_px - 0.5])).all(axis=1)
    agree = within.reshape(flat.valid.shape) == flat.valid
    assert agree.mean() > 0.999
    assert 0.3 < flat.valid.mean() < 1.0
    assert flat.valid.dtype == np.bool_
    assert set(np.unique(flat.valid.view(np.uint8))) == {0, 1}


def test_places_and_pixels_round_trip() -> None:
    camera = usual_camera()
    flat, _, _ = flat_of(camera, slopes(camera.width_px, camera.height_px))
    points = np.array([[0.0, 0.0], [17.5, 3.25], [400.0, 900.0]])
    np.testing.assert_allclose(flat.to_flat(flat.to_mm(points)), points, atol=1e-9)
    np.testing.assert_allclose(flat.to_mm([[0, 0]])[0], flat.origin_mm)
    step = flat.to_mm([[1, 0]]) - flat.to_mm([[0, 0]])
    np.testing.assert_allclose(step, [[flat.mm_per_px, 0.0]], atol=1e-9)


def test_the_square_has_its_place() -> None:
    camera = usual_camera(10.0)
    sight = Sight(camera=camera)
    plane = solve_plane(sight.found(), sight.photo()).at_height(0.0, 0.0)
    picture = slopes(camera.width_px, camera.height_px)
    flat = rectify(replace(sight.photo(), picture=picture), plane)
    sides = np.linalg.norm(flat.reference_mm - np.roll(flat.reference_mm, -1, axis=0), axis=1)
    np.testing.assert_allclose(sides, 101.6, atol=0.02)
    np.testing.assert_allclose(flat.reference_mm.mean(axis=0), [0, 0], atol=0.02)


@pytest.mark.parametrize(("distance_mm", "tilt_deg"), [(250, 0), (600, 30), (1500, 10), (700, 54)])
def test_size_and_scale_are_bounded(distance_mm: float, tilt_deg: float) -> None:
    camera = Camera(tilt_deg=tilt_deg, distance_mm=distance_mm, azimuth_deg=100.0)
    flat, _, _ = flat_of(camera, slopes(camera.width_px, camera.height_px))
    assert 0.5 <= flat.mm_per_px <= 2.0
    assert max(flat.picture.shape[:2]) <= 2402
    assert flat.picture.shape[:2] == flat.valid.shape
    assert flat.valid.any()


def test_the_scale_follows_the_photo() -> None:
    close, far = (flat_of(Camera(distance_mm=d), slopes(1613, 1209))[0] for d in (500.0, 1400.0))
    native = 500 / Camera().focal_px  # 0.41 mm
    assert close.mm_per_px == pytest.approx(2 * native, rel=0.02)
    assert close.near(close.corners_mm()).mm_per_px == 0.5
    assert far.mm_per_px == pytest.approx(1400 / Camera().focal_px, rel=0.02)
    assert far.near(far.corners_mm()).mm_per_px == pytest.approx(far.mm_per_px, rel=0.02)


@pytest.mark.parametrize("tilt_deg", [0.0, 25.0])
@pytest.mark.parametrize("mm_per_px", [0.0, 0.7])
def test_a_part_taken_anew_shows_what_it_says(tilt_deg: float, mm_per_px: float) -> None:
    camera = usual_camera(tilt_deg, 0.02)
    flat, plane, _ = flat_of(camera, slopes(camera.width_px, camera.height_px))
    middle = flat.corners_mm().mean(axis=0)
    part = flat.near(middle + np.array([[-61.3, 20.0], [33.0, -48.2]]), mm_per_px=mm_per_px)
    first, last = part.corners_mm()
    np.testing.assert_allclose(first, middle - [61.3, 48.2], atol=1e-6)
    np.testing.assert_array_less(middle + np.array([33.0, 20.0]), last + 1e-6)
    assert max(mm_per_px, 0.5) <= part.mm_per_px < 0.75
    assert part.valid.all()
    rows, columns = np.indices(part.valid.shape)
    px = plane.to_px(part.to_mm(np.column_stack([columns.ravel(), rows.ravel()])))
    expected = px / [camera.width_px - 1, camera.height_px - 1] * 255
    assert np.abs(part.picture[..., :2].reshape(-1, 2) - expected).max() < LEVELS


def test_a_part_beyond_the_photo_ends_with_it() -> None:
    camera = usual_camera(0.0)
    flat, _, _ = flat_of(camera, slopes(camera.width_px, camera.height_px))
    first, last = flat.corners_mm()
    part = flat.near([first - 50, first + 40])
    np.testing.assert_allclose(part.corners_mm()[0], first, atol=1e-6)
    nothing = flat.near([last + 10, last + 50])
    assert nothing.valid.shape == (1, 1)


def test_a_view_without_a_photo_is_its_own_part() -> None:
    camera = usual_camera()
    flat, _, _ = flat_of(camera, slopes(camera.width_px, camera.height_px))
    drawn = replace(flat, source=None)
    assert drawn.near(drawn.corners_mm()) is drawn


def test_fine_patterns_do_not_alias() -> None:
    # stripes of two pixels, seen from so near that the flat view is three times coarser
    camera = Camera(distance_mm=200.0, width_px=2000, height_px=1500)
    x = np.arange(camera.width_px)
    stripes = np.where(x % 2 == 0, 30, 220).astype(np.uint8)
    picture = np.ascontiguousarray(np.broadcast_to(stripes[None, :, None], (1500, 2000, 3)))
    flat, _, _ = flat_of(camera, picture)
    assert flat.mm_per_px > 2.5 * 200 / camera.focal_px
    middle = flat.picture[20:-20, 20:-20].astype(float)
    assert middle.std() < 12  # plain sampling would show bands: sd 95


def test_reduced_photos_give_the_same_view() -> None:
    camera = Camera(width_px=1612, height_px=1208, tilt_deg=12.0)
    whole = slopes(1612, 1208)
    half = whole.reshape(604, 2, 806, 2, 3).mean(axis=(1, 3)).round().astype(np.uint8)
    flat, _, _ = flat_of(camera, whole)
    reduced, _, _ = flat_of(camera, half, full_per_px=2.0)
    places = flat.to_mm([[100, 150], [450, 350], [250, 75]])
    for place in places:
        (c1, r1), (c2, r2) = flat.to_flat(place)[0], reduced.to_flat(place)[0]
        a = flat.picture[round(r1), round(c1)].astype(int)
        b = reduced.picture[round(r2), round(c2)].astype(int)
        assert np.abs(a - b).max() <= 2


def test_what_does_not_divide_moves_nothing() -> None:
    camera = usual_camera()
    picture = slopes(camera.width_px, camera.height_px)
    even, _, photo = flat_of(camera, picture)
    odd = replace(photo, picture=np.ascontiguousarray(picture[:-7, :-7]))
    sight = Sight(camera=camera)
    shown = rectify(odd, replace(solve_plane(sight.found(), odd), distortion=camera.distortion))
    both = even.valid & shown.valid
    difference = np.abs(even.picture.astype(int) - shown.picture.astype(int))[both]
    assert difference.max() <= 1  # stretched over the whole, it would be 3 at the far edge
    assert both.mean() > 0.97 * even.valid.mean()


def test_arrays_are_read_only() -> None:
    camera = usual_camera()
    flat, _, _ = flat_of(camera, slopes(camera.width_px, camera.height_px))
    for array in (flat.picture, flat.valid, flat.origin_mm, flat.reference_mm):
        assert not array.flags.writeable

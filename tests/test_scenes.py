"""The photos of `scenes` are checked against independent libraries before anything trusts them."""

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from camera import Camera
from drawing import coverage, linear_of
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps
from pyapriltags import Detector
from scenes import (
    Motif,
    Reference,
    Scene,
    make_scene,
    motif_truth,
    render,
    save_photo,
    truth_of,
    without_doubt,
)
from shapely import Polygon

CORNER_PX = 0.08  # what the independent detector itself is good for on noisy, blurred photos
BOWED_EDGE_PX = 0.25  # the detector lays straight lines along the bent card's bowed edges
ROUND_TRIP_MM = 1e-5
AREA_SHARE = 2e-3  # a polygon's corners are rounded off by less than a pixel each


def corner_error_px(grey: NDArray[np.uint8], truth_px: NDArray[np.float64]) -> float:
    """Worst corner of the one marker in a picture, after pyapriltags (BSD-2), in its own order.

    Its pixel (0, 0) has its corner at (0, 0), ours has its centre there: hence the half pixel.
    """
    (found,) = Detector(families="tag36h11", quad_decimate=1.0).detect(grey)
    apart = np.linalg.norm((found.corners - 0.5)[:, None] - truth_px[None], axis=-1)
    return float(apart.min(axis=1).max())


def as_light(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Grey picture in linear light."""
    return np.round(linear_of(picture).mean(axis=-1) * 255).astype(np.uint8)


@pytest.mark.parametrize("tilt_deg", [0.0, 12.0, 25.0])
@pytest.mark.parametrize("azimuth_deg", [17.0, 140.0, 271.0])
def test_camera_agrees_with_opencv(tilt_deg: float, azimuth_deg: float) -> None:
    camera = Camera(
        tilt_deg=tilt_deg, azimuth_deg=azimuth_deg, aim_mm=(31.0, -12.0), distortion=0.021
    )
    points = np.random.default_rng(3).uniform(-200, 200, (40, 2))
    intrinsic = np.array(
        [
            [camera.focal_px, 0, camera.middle_px[0]],
            [0, camera.focal_px, camera.middle_px[1]],
            [0, 0, 1],
        ]
    )
    world = np.column_stack([points, np.full(len(points), -4.0)])
    shift = -camera.rotation @ camera.position_mm
    turn = cv2.Rodrigues(camera.rotation)[0]
    expected = cv2.projectPoints(world, turn, shift, intrinsic, np.array([0.021, 0, 0, 0]))[0]
    np.testing.assert_allclose(camera.project(points, 4.0), expected[:, 0], atol=1e-6)


def test_the_lens_axis_shifts_the_photo() -> None:
    central, shifted = (Camera(tilt_deg=9, axis_px=axis) for axis in ((0.0, 0.0), (7.5, -4.0)))
    points = np.array([[-120.0, 40.0], [90.0, -60.0]])
    apart = shifted.project(points) - central.project(points)
    np.testing.assert_allclose(apart, [[7.5, -4.0]] * 2, atol=1e-9)


def test_unproject_undoes_project() -> None:
    camera = Camera(tilt_deg=25, azimuth_deg=40, distortion=-0.02, axis_px=(7.1, -4.2))
    points = np.random.default_rng(4).uniform(-180, 180, (50, 2))
    back = camera.unproject(camera.project(points, 3.0), 3.0)
    np.testing.assert_allclose(back, points, atol=ROUND_TRIP_MM)


def test_right_in_the_photo_is_right_on_the_table() -> None:
    camera = Camera(tilt_deg=22, azimuth_deg=65)
    step = np.array([[-0.5, 0], [0.5, 0]])
    left, right = camera.unproject(camera.middle_px + step)
    assert right[0] > left[0]
    assert abs(right[1] - left[1]) < ROUND_TRIP_MM


@pytest.mark.parametrize("seed", range(4))
def test_marker_lies_where_the_truth_says(seed: int) -> None:
    scene = make_scene(seed, tilt_deg=8.0 * seed)
    error = corner_error_px(as_light(render(scene)), truth_of(scene).reference_px[0])
    assert error < CORNER_PX


def test_curled_marker_lies_where_the_truth_says() -> None:
    scene = make_scene(2, tilt_deg=16.0, reference=Reference(curl_mm=1.5))
    light = as_light(render(scene))
    assert corner_error_px(light, truth_of(scene).reference_px[0]) < BOWED_EDGE_PX
    flat = replace(scene, references=(Reference(),))
    assert corner_error_px(light, truth_of(flat).reference_px[0]) > 2 * BOWED_EDGE_PX


def test_bent_marker_under_a_shifted_lens_lies_where_the_truth_says() -> None:
    card = Reference(bend_mm=(0.9, -0.6, 0.1, 1.4, -0.1))
    scene = make_scene(3, tilt_deg=12.0, reference=card)
    scene = replace(scene, camera=replace(scene.camera, axis_px=(6.3, -5.1)))
    light = as_light(render(scene))
    assert corner_error_px(light, truth_of(scene).reference_px[0]) < BOWED_EDGE_PX
    flat = replace(scene, references=(Reference(),))
    assert corner_error_px(light, truth_of(flat).reference_px[0]) > 2 * BOWED_EDGE_PX
    central = replace(scene, camera=replace(scene.camera, axis_px=(0.0, 0.0)))
    assert corner_error_px(light, truth_of(central).reference_px[0]) > 2 * BOWED_EDGE_PX


def test_a_misplaced_truth_is_noticed() -> None:
    scene = make_scene(1, tilt_deg=5.0)
    moved = truth_of(scene).reference_px[0] + [0.2, 0.0]
    assert corner_error_px(as_light(render(scene)), moved) > CORNER_PX


def test_grey_levels_as_stored_shrink_the_marker() -> None:
    """Blur before the sRGB encoding: why edges must be sought in linear light."""
    scene = make_scene(2, tilt_deg=3.0)
    picture = render(scene)
    grey = cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY)
    assert corner_error_px(grey, truth_of(scene).reference_px[0]) > 4 * CORNER_PX


def test_coverage_adds_up_to_the_area() -> None:
    angle = np.linspace(0, 2 * np.pi, 9)[:-1] + 0.2
    radius = np.where(np.arange(8) % 2, 47.3, 101.9)
    star = np.column_stack([np.cos(angle), np.sin(angle)]) * radius[:, None] + [150.4, 120.7]
    patch = coverage(star, (260, 310))
    assert patch.share.sum() == pytest.approx(Polygon(star).area, rel=AREA_SHARE)
    columns = np.arange(patch.columns.start, patch.columns.stop)
    middle = (patch.share.sum(axis=0) * columns).sum() / patch.share.sum()
    assert middle == pytest.approx(Polygon(star).centroid.x, abs=0.02)


def test_coverage_beyond_the_picture_is_cut_off() -> None:
    beyond = np.array([[-40.2, -30.1], [20.5, -30.1], [20.5, 25.5], [-40.2, 25.5]])
    patch = coverage(beyond, (100, 120))
    assert patch.share.sum() == pytest.approx(21.0 * 26.0, rel=AREA_SHARE)


def test_plain_square_covers_its_true_area() -> None:
    sheet = Reference(kind="square", side_mm=76.2, paper=(250, 236, 120), turn_deg=11.3)
    scene = without_doubt(Scene(camera=Camera(tilt_deg=14), references=(sheet,)))
    light = linear_of(render(scene))[..., 1]
    share = (light - light.min()) / (light.max() - light.min())
    expected = Polygon(truth_of(scene).reference_px[0]).area
    assert share.sum() == pytest.approx(expected, rel=5e-3)  # 8-bit levels leave 0.4 %


@pytest.mark.parametrize("seed", [5, 6])
def test_motif_covers_its_true_area(seed: int) -> None:
    scene = make_scene(seed, tilt_deg=18.0)
    garment = scene.garment
    assert garment is not None
    ink, cloth = (20, 20, 20), (235, 235, 235)
    motif = replace(scene.motifs[0], ink=ink)
    scene = without_doubt(
        replace(scene, garment=replace(garment, cloth=cloth), motifs=(motif,), references=())
    )
    truth = truth_of(scene).motifs[0]
    outline = np.round(truth.outline_px).astype(np.int32)
    near = cv2.dilate(cv2.fillPoly(np.zeros((1209, 1613), np.uint8), [outline], 1), np.ones((9, 9)))
    light = linear_of(render(scene))[..., 1]
    dark, bright = light[near > 0].min(), light[near > 0].max()
    share = ((bright - light) / (bright - dark))[near > 0].sum()
    assert share == pytest.approx(Polygon(truth.outline_px).area, rel=5e-3)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_motif_box_is_tight(seed: int) -> None:
    scene = make_scene(seed)
    garment, motif = scene.garment, scene.motifs[0]
    assert garment is not None
    truth = motif_truth(motif, garment, scene.camera)
    own = np.array(motif.shapes[0])
    assert np.ptp(own, axis=0) == pytest.approx([truth.width_mm, truth.height_mm])
    top_left, top_right, bottom_right, _ = truth.corners_mm
    assert np.linalg.norm(top_right - top_left) == pytest.approx(truth.width_mm)
    assert np.linalg.norm(bottom_right - top_right) == pytest.approx(truth.height_mm)
    rightward = top_right - top_left
    assert np.rad2deg(np.arctan2(rightward[1], rightward[0])) == pytest.approx(garment.turn_deg)


def test_two_motifs_have_two_boxes() -> None:
    square = ((0.0, 0.0), (20.0, 0.0), (20.0, 10.0), (0.0, 10.0))
    lower = tuple((x + 40, y + 60) for x, y in square)
    scene = replace(make_scene(1), motifs=(Motif(shapes=(square,)), Motif(shapes=(lower,))))
    first, second = truth_of(scene).motifs
    assert (first.width_mm, first.height_mm) == pytest.approx((20, 10))
    assert np.linalg.norm(second.centre_mm - first.centre_mm) == pytest.approx(np.hypot(40, 60))


@pytest.mark.parametrize("kind", ["single", "plain", "striped", "allover"])
def test_everything_is_in_the_picture(kind: str) -> None:
    for seed in range(25):
        truth = truth_of(make_scene(seed, tilt_deg=25.0, kind=kind))  # type: ignore[arg-type]
        assert truth.garment_px is not None
        for points in (truth.garment_px, *truth.reference_px):
            assert (points > 5).all()
            assert (points < [1607, 1203]).all()
        assert len(truth.motifs) == (kind == "single")


def test_same_seed_same_picture() -> None:
    small = replace(make_scene(7), camera=Camera(width_px=401, height_px=303, aim_mm=(140, 0)))
    assert (render(small) == render(small)).all()
    assert (render(small) != render(replace(small, seed=8))).any()


@pytest.mark.parametrize("orientation", range(1, 9))
def test_saved_photo_shows_the_picture_upright(tmp_path: Path, orientation: int) -> None:
    picture = render(replace(make_scene(3), camera=Camera(width_px=240, height_px=161)))
    path = save_photo(picture, tmp_path / "a.png", orientation=orientation, focal_35mm=26.4)
    with Image.open(path) as stored:
        assert np.array_equal(np.array(ImageOps.exif_transpose(stored)), picture)
        shot = stored.getexif().get_ifd(ExifTags.IFD.Exif)
        assert shot[ExifTags.Base.FocalLengthIn35mmFilm] == 26

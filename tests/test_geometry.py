"""Points, lines and lenses, against algebra and independent code."""

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.spatial.transform import Rotation
from shapely.geometry import LineString, Polygon
from skimage.transform import ProjectiveTransform

from motiffit.measure.geometry import (
    apply_homography,
    as_points,
    cross_lines,
    distort,
    order_clockwise,
    polygon_area,
    rotate_vectors,
    rotation_matrix,
    undistort,
)

coordinates = st.floats(-1000, 1000, allow_nan=False)
angles = st.floats(-3.0, 3.0)


def test_homography_is_that_of_scikit_image() -> None:
    rng = np.random.default_rng(1)
    matrix = np.eye(3) + 0.2 * rng.normal(size=(3, 3))
    matrix[2, :2] *= 1e-3
    points = rng.uniform(-300, 300, (50, 2))
    np.testing.assert_allclose(
        apply_homography(matrix, points), ProjectiveTransform(matrix)(points), rtol=1e-12
    )


@given(arrays(np.float64, (5, 2), elements=coordinates))
def test_area_is_that_of_shapely(points: np.ndarray) -> None:
    hull = cv2.convexHull(points.astype(np.float32)).reshape(-1, 2).astype(np.float64)
    expected = Polygon(hull).area if len(hull) >= 3 else 0.0
    assert abs(polygon_area(hull)) == pytest.approx(expected, rel=1e-9, abs=1e-6)
    assert polygon_area(hull) == pytest.approx(-polygon_area(hull[::-1]), abs=1e-9)


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("mirrored", [False, True])
def test_corners_come_in_one_order(turn: int, mirrored: bool) -> None:
    corners = np.array([[1.0, 2.0], [11.0, 1.0], [12.0, 13.0], [0.5, 11.0]])
    given_order = np.roll(corners[::-1] if mirrored else corners, turn, axis=0)
    np.testing.assert_array_equal(order_clockwise(given_order), corners)


def test_crossing_is_that_of_shapely() -> None:
    rng = np.random.default_rng(2)
    for _ in range(20):
        a, b, c, d = rng.uniform(-10, 10, (4, 2))
        expected = LineString([a - 99 * (b - a), b + 99 * (b - a)]).intersection(
            LineString([c - 99 * (d - c), d + 99 * (d - c)])
        )
        if expected.is_empty:
            continue
        found = cross_lines(a, b - a, c, d - c)
        np.testing.assert_allclose(found, [expected.x, expected.y], atol=1e-6)


def test_parallel_lines_are_an_error() -> None:
    with pytest.raises(ValueError, match="parallel"):
        cross_lines(np.zeros(2), np.array([1.0, 2.0]), np.ones(2), np.array([-2.0, -4.0]))


@given(angles, angles, angles)
def test_rotation_is_that_of_scipy(x: float, y: float, z: float) -> None:
    vector = np.array([x, y, z])
    expected = Rotation.from_rotvec(vector).as_matrix()
    np.testing.assert_allclose(rotation_matrix(vector), expected, atol=1e-12)
    np.testing.assert_allclose(rotation_matrix(vector[None])[0], expected, atol=1e-12)


def test_vectors_turn_clockwise_on_the_screen() -> None:
    # y points down: a quarter turn takes "right" to "down"
    np.testing.assert_allclose(rotate_vectors(np.array([[1.0, 0.0]]), 90), [[0, 1]], atol=1e-15)


def test_distortion_is_opencvs_first_term() -> None:
    rays = np.random.default_rng(3).uniform(-0.7, 0.7, (40, 2))
    lifted = np.column_stack([rays, np.ones(40)])
    for term in (-0.2, -0.02, 0.03, 0.3):
        expected, _ = cv2.projectPoints(
            lifted, np.zeros(3), np.zeros(3), np.eye(3), np.array([term, 0, 0, 0])
        )
        np.testing.assert_allclose(distort(rays, term), expected.reshape(-1, 2), rtol=1e-12)


@given(arrays(np.float64, (6, 2), elements=st.floats(-0.8, 0.8)), st.floats(-0.12, 0.4))
def test_undistort_undoes_distort(rays: np.ndarray, term: float) -> None:
    np.testing.assert_allclose(undistort(distort(rays, term), term), rays, atol=1e-7)


def test_undistort_of_several_lenses_at_once() -> None:
    rays = np.random.default_rng(4).uniform(-0.6, 0.6, (3, 7, 2))
    terms = np.array([[-0.05], [0.0], [0.2]])
    np.testing.assert_allclose(undistort(distort(rays, terms), terms), rays, atol=1e-9)
    for ray, term in zip(rays, terms, strict=True):
        np.testing.assert_allclose(undistort(ray, term[0]), undistort(ray[None], term[None])[0])


def test_impossible_lenses_stay_finite() -> None:
    rays = np.array([[0.0, 0.0], [5.0, -5.0], [100.0, 3.0]])
    for term in (-50.0, 50.0):
        assert np.isfinite(undistort(rays, term)).all()


@pytest.mark.parametrize("wrong", [[[1.0, np.nan]], [[1, 2, 3]], [[[1, 2]]], [[np.inf, 0]]])
def test_what_is_no_list_of_points_is_an_error(wrong: object) -> None:
    with pytest.raises(ValueError, match="pairs"):
        as_points(wrong)  # type: ignore[arg-type]

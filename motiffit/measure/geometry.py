"""Points, polygons, lines and lenses: plain numpy, no pictures.

Points are (N, 2) float64 arrays of (x, y), or (..., 2) where leading axes are said to broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "apply_homography",
    "as_pairs",
    "as_points",
    "box_corners",
    "cross_lines",
    "distort",
    "order_clockwise",
    "polygon_area",
    "rotate_vectors",
    "rotation_matrix",
    "undistort",
]

Floats = NDArray[np.float64]


def as_points(points: ArrayLike) -> Floats:
    """Return points as a fresh (N, 2) float64 array.

    Raises
    ------
    ValueError
        If they are not finite pairs.
    """
    array = np.array(points, dtype=np.float64, ndmin=2)
    if array.ndim != 2 or array.shape[1] != 2 or not np.isfinite(array).all():
        raise ValueError(f"not a list of finite (x, y) pairs: shape {array.shape}")
    return array


def as_pairs(points: Floats) -> tuple[tuple[float, float], ...]:
    """Return points (N, 2) as plain pairs, for a record."""
    return tuple((float(x), float(y)) for x, y in points)


def box_corners(
    centre: tuple[float, float], width: float, height: float, angle_deg: float
) -> Floats:
    """Return the corners (4, 2) of a box turned clockwise, from its own top left, clockwise.

    Examples
    --------
    >>> box_corners((10.0, 0.0), 4.0, 2.0, 90.0).round(9).tolist()
    [[11.0, -2.0], [11.0, 2.0], [9.0, 2.0], [9.0, -2.0]]
    """
    flat = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2
    return np.asarray(rotate_vectors(flat, angle_deg) + np.asarray(centre))


def apply_homography(matrix: Floats, points: Floats) -> Floats:
    """Map points (N, 2) through a 3 x 3 homography.

    Examples
    --------
    >>> apply_homography(np.diag([2.0, 2.0, 1.0]), np.array([[1.0, 3.0]]))
    array([[2., 6.]])
    """
    lifted = points @ matrix[:, :2].T + matrix[:, 2]
    return np.asarray(lifted[:, :2] / lifted[:, 2:])


def polygon_area(points: Floats) -> float:
    """Return the signed area of a polygon (N, 2), positive when clockwise on the screen.

    Examples
    --------
    >>> polygon_area(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0]]))
    2.0
    """
    following = np.roll(points, -1, axis=0)
    return float(np.sum(points[:, 0] * following[:, 1] - points[:, 1] * following[:, 0]) / 2)


def order_clockwise(corners: Floats) -> Floats:
    """Return four corners (4, 2) clockwise on the screen, from the one nearest the top left."""
    corners = corners if polygon_area(corners) > 0 else corners[::-1]
    return np.roll(corners, -int(np.argmin(corners.sum(axis=1))), axis=0)


def cross_lines(point_a: Floats, along_a: Floats, point_b: Floats, along_b: Floats) -> Floats:
    """Return where two lines cross, each given by a point (2,) and a direction (2,).

    Raises
    ------
    ValueError
        If they are parallel.
    """
    turn = along_a[0] * along_b[1] - along_a[1] * along_b[0]
    if abs(turn) <= 1e-9 * np.hypot(*along_a) * np.hypot(*along_b):
        raise ValueError("parallel lines do not cross")
    between = point_b - point_a
    step = (between[0] * along_b[1] - between[1] * along_b[0]) / turn
    return np.asarray(point_a + step * along_a)


def rotation_matrix(vector: Floats) -> Floats:
    """Return matrices (..., 3, 3) for rotation vectors (..., 3) in radians (Rodrigues)."""
    angle = np.linalg.norm(vector, axis=-1)[..., None, None]
    x, y, z = np.moveaxis(vector, -1, 0)
    zero = np.zeros_like(x)
    skew = np.stack([zero, -z, y, z, zero, -x, -y, x, zero], axis=-1).reshape(*vector.shape, 3)
    # sin(t)/t and (1 - cos(t))/t^2, finite at zero
    first = np.sinc(angle / np.pi)
    second = 0.5 * np.sinc(angle / (2 * np.pi)) ** 2
    return np.asarray(np.eye(3) + first * skew + second * (skew @ skew))


def rotate_vectors(vectors: Floats, angle_deg: float) -> Floats:
    """Turn vectors (N, 2) clockwise on the screen.

    Examples
    --------
    >>> rotate_vectors(np.array([[1.0, 0.0]]), 90.0).round(12) + 0.0
    array([[0., 1.]])
    """
    turn = np.deg2rad(angle_deg)
    matrix = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray(vectors @ matrix.T)


def distort(rays: Floats, distortion: ArrayLike) -> Floats:
    """Move ideal points (..., 2), in focal lengths from the middle, to where the lens shows them.

    A point at the distance r is shown at r (1 + distortion r^2); ``distortion`` broadcasts against
    the leading axes.
    """
    term = np.asarray(distortion, dtype=np.float64)[..., None]
    return np.asarray(rays * (1 + term * np.sum(rays**2, axis=-1, keepdims=True)))


def undistort(rays: Floats, distortion: ArrayLike) -> Floats:
    """Undo `distort`, by Newton's method on the distance from the middle."""
    term = np.asarray(distortion, dtype=np.float64)[..., None]
    shown = np.sum(rays**2, axis=-1, keepdims=True)
    # with s = r_shown^2 and the ratio q = r / r_shown: q + term s q^3 = 1
    # below -4/27 there is no such point: the lens model folds over
    weight = np.clip(term * shown, -0.148, 4.0)
    ratio = 1 - weight / (1 + np.maximum(3 * weight, -0.5))
    for _ in range(5):
        slope = np.maximum(1 + 3 * weight * ratio**2, 0.1)
        ratio = ratio - (ratio + weight * ratio**3 - 1) / slope
    return np.asarray(rays * ratio)

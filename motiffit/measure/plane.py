"""The cloth's plane: pose, focal length and lens from one square, with the doubt in each.

Frames. Camera: x right, y down, z away from it, in mm. Table: origin at the middle of the square,
x and y as the photo shows them, z into the table; the cloth lies at ``z = -height_mm``.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from motiffit.errors import Refusal
from motiffit.measure.geometry import distort, rotation_matrix, undistort
from motiffit.measure.photo import Photo
from motiffit.measure.reference import FoundReference
from motiffit.record import Message, PlaneDigest, make_message

__all__ = ["Plane", "solve_plane"]

Floats = NDArray[np.float64]

# Parameters, in this order
_TURN = slice(0, 3)  # rotation vector on top of the rotation from table to camera
_PLACE = slice(3, 6)  # middle of the square in the camera's frame, mm
_FOCAL = 6  # logarithm of focal length over its expectation
_DISTORTION = 7
_CURL = slice(8, 12)  # height of each corner over the table, mm
_HEIGHT = 12  # of the cloth over the table, mm
_SCALE = 13  # logarithm of the true side over the stated one
_COUNT = 14

FILM_DIAGONAL_MM = 43.2666  # of the 36 x 24 mm frame, to which the 35 mm equivalent refers
_USUAL_FOCAL_MM, _USUAL_FOCAL_SD = 26.0, 0.12  # main phone cameras without camera data
_NOTED_FOCAL_SD = 0.03  # Exif data: whole millimetres, and makers differ in what they refer to
_DISTORTION_SD = 0.02
_CURL_SD_MM = 0.3  # four free corners of this sd bend a card by about a millimetre at most
_HEIGHT_MM, _HEIGHT_SD_MM = 3.0, 2.0  # cloth on the table, card on the table
_SCALE_SD = 0.001  # a ruler reads a 100 mm square to 0.1 mm

_TILT_WARNED_DEG = 30.0
_TILT_REFUSED_DEG = 55.0
_LEAST_STEEPNESS = 0.2  # cosine against the table's normal: flatter looks show nothing to measure
_EXPECTED_MISFIT = 6.0  # of 12 edge nodes; pose and priors take up about half
_BENT_MISFIT = 150.0  # five times the expected scatter: no square of stiff paper looks like this


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """How the photo's pixels map to the cloth, and how well that is known.

    Attributes
    ----------
    middle_px
        (2,) middle of the photo, where the lens is centred.
    focal_px, distortion
        The lens; see `motiffit.record.PlaneDigest`.
    rotation, place_mm
        (3, 3) and (3,): table frame to camera frame.
    side_mm, corners_px
        The reference square: its side, and its corners (4, 2) in the photo.
    height_mm
        Height of the cloth above the square's plane.
    covariance
        (14, 14), of the parameters named at the head of this module.
    messages
        What to look at.
    """

    middle_px: Floats
    focal_px: float
    distortion: float
    rotation: Floats
    place_mm: Floats
    side_mm: float
    corners_px: Floats
    height_mm: float
    covariance: Floats
    messages: tuple[Message, ...]

    @property
    def tilt_deg(self) -> float:
        """Angle between the line of sight in the photo's middle and the table's normal."""
        return float(np.rad2deg(np.arccos(np.clip(self.rotation[2, 2], -1, 1))))

    def to_mm(self, points_px: ArrayLike) -> Floats:
        """Return where on the cloth (N, 2) pixels (N, 2) of the photo lie, mm."""
        points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        return _to_cloth(points, self._parameters()[None], self)[0]

    def to_px(self, points_mm: ArrayLike) -> Floats:
        """Return the pixels (N, 2) of points (N, 2) on the cloth, mm."""
        points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 2)
        lifted = np.column_stack([points, np.full(len(points), -self.height_mm)])
        seen = lifted @ self.rotation.T + self.place_mm
        rays = distort(seen[:, :2] / seen[:, 2:], self.distortion)
        return np.asarray(rays * self.focal_px + self.middle_px)

    def sees(self, points_px: ArrayLike) -> NDArray[np.bool_]:
        """Return which pixels (N, 2) look down on the cloth's plane rather than past it."""
        points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        rays = undistort((points - self.middle_px) / self.focal_px, self.distortion)
        steepness = rays @ self.rotation[:2, 2] + self.rotation[2, 2]
        return np.asarray(steepness > _LEAST_STEEPNESS)

    def length_sd_mm(self, a_mm: ArrayLike, b_mm: ArrayLike) -> Floats:
        """Return one standard deviation of the distances from a to b that comes of the plane alone.

        Parameters
        ----------
        a_mm, b_mm
            (N, 2) or (2,) points on the cloth.

        Returns
        -------
        ndarray
            (N,) mm.
        """
        a, b = (np.asarray(p, dtype=np.float64).reshape(-1, 2) for p in (a_mm, b_mm))
        points = self.to_px(np.concatenate([a, b]))
        start = self._parameters()
        step = np.maximum(1e-3 * np.sqrt(np.diag(self.covariance)), 1e-9)
        moved = np.concatenate([start + np.diag(step), start - np.diag(step)])
        places = _to_cloth(points, moved, self)
        lengths = np.linalg.norm(places[:, : len(a)] - places[:, len(a) :], axis=-1)
        slopes = (lengths[:_COUNT] - lengths[_COUNT:]) / (2 * step[:, None])
        variance = np.einsum("pn,pq,qn->n", slopes, self.covariance, slopes)
        return np.asarray(np.sqrt(np.maximum(variance, 0)))

    def at_height(self, height_mm: float, sd_mm: float) -> "Plane":
        """Return this plane for cloth at another height, e.g. 0 where the card lies on it."""
        covariance = self.covariance.copy()
        covariance[_HEIGHT, :] = covariance[:, _HEIGHT] = 0
        covariance[_HEIGHT, _HEIGHT] = sd_mm**2
        covariance.flags.writeable = False
        return replace(self, height_mm=height_mm, covariance=covariance)

    def digest(self) -> PlaneDigest:
        """Return what the record keeps."""
        lens = np.diag([self.focal_px, self.focal_px, 1.0])
        lens[:2, 2] = self.middle_px
        lift = self.rotation[:, 2] * -self.height_mm + self.place_mm
        to_px = lens @ np.column_stack([self.rotation[:, :2], lift])
        to_mm = np.linalg.inv(to_px)
        rows = tuple(tuple(float(v) for v in row) for row in to_mm / to_mm[2, 2])
        return PlaneDigest(
            px_to_mm=rows,  # type: ignore[arg-type]
            tilt_deg=self.tilt_deg,
            height_mm=self.height_mm,
            focal_px=self.focal_px,
            distortion=self.distortion,
        )

    def _parameters(self) -> Floats:
        """Return the parameters about which the covariance holds."""
        values = np.zeros(_COUNT)
        values[_PLACE] = self.place_mm
        values[_DISTORTION] = self.distortion
        values[_HEIGHT] = self.height_mm
        return values


def _to_cloth(points_px: Floats, parameters: Floats, plane: Plane) -> Floats:
    """Return (P, N, 2) places on the cloth for each of P parameter vectors."""
    focal = plane.focal_px * np.exp(parameters[:, _FOCAL])
    rays = (points_px - plane.middle_px) / focal[:, None, None]
    rays = undistort(rays, parameters[:, _DISTORTION, None])
    rotation = rotation_matrix(parameters[:, _TURN]) @ plane.rotation
    places = _hit(rays, rotation, parameters[:, _PLACE], -parameters[:, _HEIGHT, None])
    return np.asarray(places * np.exp(parameters[:, _SCALE])[:, None, None])


def _hit(rays: Floats, rotation: Floats, place: Floats, depth: Floats) -> Floats:
    """Return the table's (x, y) where rays (P, N, 2) reach z = depth (P, N or 1)."""
    lifted = np.concatenate([rays, np.ones((*rays.shape[:-1], 1))], axis=-1)
    heading = lifted @ rotation  # into the table's frame: the transpose, from the right
    eye = -np.einsum("pij,pi->pj", rotation, place)
    reach = (depth - eye[:, 2, None]) / heading[..., 2]
    return np.asarray(eye[:, None, :2] + reach[..., None] * heading[..., :2])


def solve_plane(found: FoundReference, photo: Photo) -> Plane:
    """Find pose, focal length and distortion that explain the square's edges best.

    Edges and prior knowledge are weighed by their standard deviations (a maximum a posteriori
    estimate); the inverse of the normal matrix is its covariance.

    Raises
    ------
    Refusal
        If the square is seen too obliquely, or no square explains the edges.
    """
    problem = _make_problem(found, photo)
    answers = [_minimise(problem, start) for start in _starts(found, problem)]
    answers.sort(key=lambda answer: answer.cost)
    plane = _make_plane(answers, problem)
    if plane.tilt_deg > _TILT_REFUSED_DEG:
        raise Refusal("reference-too-oblique", tilt_deg=plane.tilt_deg)
    return replace(plane, messages=tuple(_messages(plane, photo, answers[0].misfit)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """What is to be explained, and what is known beforehand."""

    nodes: Floats  # (12, 2) px from the middle of the photo, three per edge
    whiten: Floats  # (4, 3, 3), turns an edge's residuals in px into unit sd
    px_per_mm: Floats  # (4,), across each edge
    side_mm: float
    corners_px: Floats
    focal_px: float
    prior_sd: Floats  # (6,), log focal, distortion, four corners
    middle_px: Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """A minimum of the problem."""

    rotation: Floats
    values: Floats  # (12,), its turn zero
    cost: float  # sum of squares, in units of the sds
    misfit: float  # the edges' part of it
    normal: Floats  # (12, 12)


_NORMALS = np.array([[0.0, -1.0], [1.0, 0.0], [0.0, 1.0], [-1.0, 0.0]])  # outward, edge by edge
_ALONGS = np.roll(_NORMALS, -1, axis=0)
_CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])  # clockwise, in sides


def _make_problem(found: FoundReference, photo: Photo) -> _Problem:
    """Gather the edges and what is known of the camera."""
    middle = np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2])
    diagonal = float(np.hypot(photo.width_px, photo.height_px))
    noted = photo.focal_35mm
    spans = np.linalg.norm(np.roll(found.corners_px, -1, axis=0) - found.corners_px, axis=1)
    across = (np.roll(spans, 1) + np.roll(spans, -1)) / 2  # the two neighbours' mean length
    focal_sd = _NOTED_FOCAL_SD if noted else _USUAL_FOCAL_SD
    return _Problem(
        nodes=np.concatenate([edge.nodes_px for edge in found.edges]) - middle,
        whiten=np.array(
            [np.linalg.inv(np.linalg.cholesky(edge.covariance_px2)) for edge in found.edges]
        ),
        px_per_mm=across / found.side_mm,
        side_mm=found.side_mm,
        corners_px=found.corners_px,
        focal_px=(noted or _USUAL_FOCAL_MM) / FILM_DIAGONAL_MM * diagonal,
        prior_sd=np.array([focal_sd, _DISTORTION_SD, *[_CURL_SD_MM] * 4]),
        middle_px=middle,
    )


def _starts(found: FoundReference, problem: _Problem) -> list[tuple[Floats, Floats]]:
    """Return the two poses that explain four corners, by IPPE (Collins and Bartoli, 2014)."""
    lens = np.diag([problem.focal_px, problem.focal_px, 1.0])
    square = np.column_stack([_CORNERS * problem.side_mm, np.zeros(4)])
    count, turns, places, _ = cv2.solvePnPGeneric(
        square, found.corners_px - problem.middle_px, lens, None, flags=cv2.SOLVEPNP_IPPE
    )
    starts = [
        (rotation_matrix(np.ravel(turn)), np.ravel(place))
        for turn, place in zip(turns[:count], places[:count], strict=True)
        if np.isfinite(turn).all() and np.isfinite(place).all() and np.ravel(place)[2] > 0
    ]
    if not starts:
        raise Refusal("reference-unclear")
    return starts


def _residuals(values: Floats, rotation: Floats, problem: _Problem) -> Floats:
    """Return (P, 18) residuals in units of their sd for P parameter vectors (P, 12)."""
    count, half = len(values), problem.side_mm / 2
    focal = problem.focal_px * np.exp(values[:, _FOCAL])
    rays = undistort(problem.nodes / focal[:, None, None], values[:, _DISTORTION, None])
    turned, place = rotation_matrix(values[:, _TURN]) @ rotation, values[:, _PLACE]
    flat = _hit(rays, turned, place, np.zeros((count, 1))).reshape(count, 4, 3, 2)
    # how far along its edge a node lies, 0 at the corner before and 1 at the one after
    share = (np.einsum("penc,ec->pen", flat, _ALONGS) / half + 1) / 2
    curl = values[:, _CURL, None]
    lift = curl * (1 - share) + np.roll(curl, -1, axis=1) * share
    seen = _hit(rays, turned, place, -lift.reshape(count, 12)).reshape(flat.shape)
    beyond_mm = np.einsum("penc,ec->pen", seen, _NORMALS) - half
    beyond_px = beyond_mm * problem.px_per_mm[:, None]
    edges = np.einsum("enm,pem->pen", problem.whiten, beyond_px).reshape(count, 12)
    return np.concatenate([edges, values[:, _FOCAL : _CURL.stop] / problem.prior_sd], axis=1)


# steps of the numeric slopes: radians, mm, logarithm, distortion, mm
_STEPS = np.array([*[1e-4] * 3, *[1e-2] * 3, 1e-4, 1e-4, *[1e-2] * 4])


def _slopes(values: Floats, rotation: Floats, problem: _Problem) -> Floats:
    """Return (18, 12) derivatives of the residuals, by central differences."""
    moved = np.concatenate([values + np.diag(_STEPS), values - np.diag(_STEPS)])
    wide = _residuals(moved, rotation, problem)
    return np.asarray(((wide[:12] - wide[12:]) / (2 * _STEPS[:, None])).T)


def _minimise(problem: _Problem, start: tuple[Floats, Floats]) -> _Answer:
    """Minimise the sum of squared residuals (Levenberg and Marquardt)."""
    rotation, values, damping = start[0], np.zeros(12), 1e-3
    values[_PLACE] = start[1]
    rest = _residuals(values[None], rotation, problem)[0]
    for _ in range(60):
        slopes = _slopes(values, rotation, problem)
        normal = slopes.T @ slopes
        step = np.linalg.solve(normal + damping * np.diag(np.diag(normal)), -slopes.T @ rest)
        trial = _residuals((values + step)[None], rotation, problem)[0]
        gain = rest @ rest - trial @ trial
        if not gain >= 0:  # worse, or not a number
            damping *= 10
            if damping > 1e9:
                break
            continue
        values, rest, damping = values + step, trial, max(damping / 10, 1e-9)
        rotation = rotation_matrix(values[_TURN]) @ rotation
        values[_TURN] = 0
        if gain < 1e-6:
            break
    slopes = _slopes(values, rotation, problem)
    return _Answer(
        rotation=rotation,
        values=values,
        cost=float(rest @ rest),
        misfit=float(rest[:12] @ rest[:12]),
        normal=slopes.T @ slopes,
    )


def _covariance(answers: list[_Answer]) -> Floats:
    """Return the (14, 14) covariance, wider where two poses explain the edges about as well."""
    best = answers[0]
    covariance = np.diag([*[0.0] * 12, _HEIGHT_SD_MM**2, _SCALE_SD**2])
    spread = max(1.0, best.misfit / _EXPECTED_MISFIT)
    covariance[:12, :12] = np.linalg.inv(best.normal) * spread
    for other in answers[1:]:
        weight = float(np.exp(-(other.cost - best.cost) / 2 / spread))
        apart = np.zeros(_COUNT)
        apart[:12] = other.values - best.values
        apart[_TURN] = np.ravel(cv2.Rodrigues(other.rotation @ best.rotation.T)[0])
        covariance += weight / (1 + weight) * np.outer(apart, apart)
    if not np.isfinite(covariance).all() or np.linalg.eigvalsh(covariance)[0] <= 0:
        raise Refusal("reference-unclear")
    return covariance


def _make_plane(answers: list[_Answer], problem: _Problem) -> Plane:
    """Turn the best answer's table frame so that x runs as the photo's rows do at its middle."""
    best = answers[0]
    covariance = _covariance(answers)
    plane = Plane(
        middle_px=problem.middle_px,
        focal_px=problem.focal_px * float(np.exp(best.values[_FOCAL])),
        distortion=float(best.values[_DISTORTION]),
        rotation=best.rotation,
        place_mm=best.values[_PLACE].copy(),
        side_mm=problem.side_mm,
        corners_px=problem.corners_px,
        height_mm=_HEIGHT_MM,
        covariance=covariance,
        messages=(),
    )
    left, right = plane.to_mm(problem.middle_px + np.array([[-0.5, 0.0], [0.5, 0.0]]))
    angle = np.arctan2(right[1] - left[1], right[0] - left[0])
    plane = replace(plane, rotation=best.rotation @ rotation_matrix(np.array([0.0, 0.0, angle])))
    for array in (plane.middle_px, plane.rotation, plane.place_mm, plane.covariance):
        array.flags.writeable = False
    return plane


def _messages(plane: Plane, photo: Photo, misfit: float) -> list[Message]:
    """Say what makes the plane less certain."""
    messages = []
    if photo.focal_35mm is None:
        messages.append(make_message("focal-unknown"))
    if plane.tilt_deg > _TILT_WARNED_DEG:
        messages.append(make_message("tilted", tilt_deg=plane.tilt_deg))
    if misfit > _BENT_MISFIT:
        messages.append(make_message("reference-bent"))
    return messages

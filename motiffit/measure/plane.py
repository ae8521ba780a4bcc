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
_PLACE = slice(3, 6)  # middle of the square: x and y in px, and the logarithm of mm per px there
_FOCAL = 6  # logarithm of focal length over its expectation
_DISTORTION = 7
_BEND = slice(8, 13)  # height of the card over the table: u, v, u^2, uv and v^2 of it, mm
_BLEED = slice(13, 15)  # by how much bright parts look too wide on each side, px, along u and v
_FITTED = 15
_HEIGHT = 15  # of the cloth over the table, mm
_SCALE = 16  # logarithm of the true side over the stated one
_COUNT = 17

FILM_DIAGONAL_MM = 43.2666  # of the 36 x 24 mm frame, to which the 35 mm equivalent refers
_USUAL_FOCAL_MM, _USUAL_FOCAL_SD = 26.0, 0.12  # main phone cameras without camera data
_NOTED_FOCAL_SD = 0.03  # Exif data: whole millimetres, and makers differ in what they refer to
_DISTORTION_SD = 0.02
_BEND_SD_MM = (0.3, 0.3, 0.7, 0.4, 0.7)  # a card's edges rise by a millimetre or so
_BLEED_PX = {"card": 0.3, "square": 0.15}  # blur in linear light moves grey-coded edges so
_BLEED_SD_PX = {"card": 1.0, "square": 0.25}  # a card shows it; for a square it stays a guess
_HEIGHT_MM, _HEIGHT_SD_MM = 3.0, 2.0  # cloth on the table, card on the table
_SCALE_SD = 0.001  # a ruler reads a 100 mm square to 0.1 mm

_HOPELESS = 100.0  # a pose whose sum of squares is this much larger explains nothing
_OUTLYING = 4.0  # robust sds
_TILT_WARNED_DEG = 30.0
_TILT_REFUSED_DEG = 55.0
_LEAST_STEEPNESS = 0.2  # cosine against the table's normal: flatter looks show nothing to measure
_BENT_MISFIT = 25.0  # five times the expected scatter


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
        (17, 17), of the parameters named at the head of this module.
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
        return np.asarray(_to_cloth(points, self._parameters()[None], self)[0])

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
            middle_px=(float(self.middle_px[0]), float(self.middle_px[1])),
            tilt_deg=self.tilt_deg,
            height_mm=self.height_mm,
            focal_px=self.focal_px,
            distortion=self.distortion,
        )

    def _parameters(self) -> Floats:
        """Return the parameters about which the covariance holds."""
        values = np.zeros(_COUNT)
        values[_PLACE] = _seen_place(self.place_mm, self.focal_px)
        values[_DISTORTION] = self.distortion
        values[_HEIGHT] = self.height_mm
        return values


def _to_cloth(points_px: Floats, parameters: Floats, plane: Plane) -> Floats:
    """Return (P, N, 2) places on the cloth for each of P parameter vectors."""
    focal = plane.focal_px * np.exp(parameters[:, _FOCAL])
    rays = (points_px - plane.middle_px) / focal[:, None, None]
    rays = undistort(rays, parameters[:, _DISTORTION, None])
    rotation = rotation_matrix(parameters[:, _TURN]) @ plane.rotation
    place = _place_mm(parameters[:, _PLACE], focal)
    places = _hit(rays, rotation, place, -parameters[:, _HEIGHT, None])
    return np.asarray(places * np.exp(parameters[:, _SCALE])[:, None, None])


def _seen_place(place_mm: Floats, focal_px: float) -> Floats:
    """Return a place (3,) in the camera's frame as the photo shows it: almost free of the focal."""
    mm_per_px = place_mm[2] / focal_px
    return np.array([place_mm[0] / mm_per_px, place_mm[1] / mm_per_px, np.log(mm_per_px)])


def _place_mm(seen: Floats, focal_px: Floats) -> Floats:
    """Return places (P, 3) in the camera's frame: the inverse of `_seen_place`."""
    lifted = np.column_stack([seen[:, :2], focal_px])
    return np.asarray(lifted * np.exp(seen[:, 2:]))


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
    answers = _explain(problem, _starts(found, problem))
    kept = _inliers(answers[0].rest)
    if not kept.all():
        problem = problem.of(kept)
        answers = _explain(problem, [(one.rotation, one.values) for one in answers])
    plane = _make_plane(answers, problem)
    if plane.tilt_deg > _TILT_REFUSED_DEG:
        raise Refusal("reference-too-oblique", tilt_deg=plane.tilt_deg)
    misfit = float(np.mean(answers[0].rest ** 2))
    return replace(plane, messages=tuple(_messages(plane, photo, misfit)))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Problem:
    """What is to be explained, and what is known beforehand."""

    points: Floats  # (N, 2) px from the middle of the photo
    axis: NDArray[np.int64]  # (N,)
    coordinate: Floats  # (N,) -1..1
    toward_dark: Floats  # (N,)
    weight: Floats  # (N,) 1 / sd in px
    px_per_mm: Floats  # (N,), across each mark
    side_mm: float
    corners_px: Floats
    focal_px: float
    prior_mean: Floats  # (9,), log focal, distortion, bend, bleed
    prior_sd: Floats
    middle_px: Floats

    def of(self, kept: NDArray[np.bool_]) -> "_Problem":
        """Return the problem with only the marks kept."""
        marks = ("points", "axis", "coordinate", "toward_dark", "weight", "px_per_mm")
        return replace(self, **{name: getattr(self, name)[kept] for name in marks})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Answer:
    """A minimum of the problem."""

    rotation: Floats
    values: Floats  # (15,), its turn zero
    cost: float  # sum of squares, in units of the sds
    rest: Floats  # (N,) the marks' part of it
    normal: Floats  # (15, 15)


_Pose = tuple[Floats, Floats]  # rotation, and the fitted parameters on top of it
_CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])  # clockwise, in sides


def _make_problem(found: FoundReference, photo: Photo) -> _Problem:
    """Gather the marks and what is known of the camera."""
    middle = np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2])
    diagonal = float(np.hypot(photo.width_px, photo.height_px))
    noted = photo.focal_35mm
    spans = np.linalg.norm(np.roll(found.corners_px, -1, axis=0) - found.corners_px, axis=1)
    spans = (spans[:2] + spans[2:]) / 2  # along u and v
    focal_sd = _NOTED_FOCAL_SD if noted else _USUAL_FOCAL_SD
    marks = found.marks
    bleed = _BLEED_PX[found.kind] * photo.full_per_px
    bleed_sd = _BLEED_SD_PX[found.kind] * photo.full_per_px
    return _Problem(
        points=marks.points_px - middle,
        axis=marks.axis,
        coordinate=marks.coordinate,
        toward_dark=marks.toward_dark,
        weight=1 / marks.sd_px,
        px_per_mm=spans[marks.axis] / found.side_mm,
        side_mm=found.side_mm,
        corners_px=found.corners_px,
        focal_px=(noted or _USUAL_FOCAL_MM) / FILM_DIAGONAL_MM * diagonal,
        prior_mean=np.array([*[0.0] * 7, bleed, bleed]),
        prior_sd=np.array([focal_sd, _DISTORTION_SD, *_BEND_SD_MM, bleed_sd, bleed_sd]),
        middle_px=middle,
    )


def _starts(found: FoundReference, problem: _Problem) -> list[_Pose]:
    """Return the two poses that explain four corners, by IPPE (Collins and Bartoli, 2014)."""
    lens = np.diag([problem.focal_px, problem.focal_px, 1.0])
    square = np.column_stack([_CORNERS * problem.side_mm, np.zeros(4)])
    count, turns, places, _ = cv2.solvePnPGeneric(
        square, found.corners_px - problem.middle_px, lens, None, flags=cv2.SOLVEPNP_IPPE
    )
    starts = [
        _start(rotation_matrix(np.ravel(turn)), np.ravel(place), problem)
        for turn, place in zip(turns[:count], places[:count], strict=True)
        if np.isfinite(turn).all() and np.isfinite(place).all() and np.ravel(place)[2] > 0
    ]
    if not starts:
        raise Refusal("reference-unclear")
    return starts


def _start(rotation: Floats, place_mm: Floats, problem: _Problem) -> _Pose:
    """Begin at a pose and at what is expected of the rest."""
    values = np.zeros(_FITTED)
    values[_PLACE] = _seen_place(place_mm, problem.focal_px)
    values[_FOCAL:] = problem.prior_mean
    return rotation, values


def _explain(problem: _Problem, starts: list[_Pose]) -> list[_Answer]:
    """Minimise from each start; the best answer comes first."""
    answers: list[_Answer] = []
    for start in starts:
        ceiling = min((answer.cost for answer in answers), default=np.inf) + _HOPELESS
        answers.append(_minimise(problem, start, ceiling))
    return sorted(answers, key=lambda answer: answer.cost)


def _inliers(rest: Floats) -> NDArray[np.bool_]:
    """Tell which marks lie where the others say; something may cover or shade a few."""
    usual = max(1.0, 1.4826 * float(np.median(np.abs(rest))))
    return np.asarray(np.abs(rest) < _OUTLYING * usual)


def _residuals(values: Floats, rotation: Floats, problem: _Problem) -> Floats:
    """Return (P, N + 9) residuals in units of their sd for P parameter vectors (P, 15)."""
    half = problem.side_mm / 2
    focal = problem.focal_px * np.exp(values[:, _FOCAL])
    rays = undistort(problem.points / focal[:, None, None], values[:, _DISTORTION, None])
    turned, place = (
        rotation_matrix(values[:, _TURN]) @ rotation,
        _place_mm(values[:, _PLACE], focal),
    )
    u, v = np.moveaxis(_hit(rays, turned, place, np.zeros((len(values), 1))) / half, -1, 0)
    shape = np.stack([u, v, u * u, u * v, v * v], axis=-1)
    lift = np.einsum("pns,ps->pn", shape, values[:, _BEND])
    seen = _hit(rays, turned, place, -lift)
    across = np.where(problem.axis == 0, seen[..., 0], seen[..., 1])
    apart_px = (across - problem.coordinate * half) * problem.px_per_mm
    bleed = values[:, _BLEED][:, problem.axis] * problem.toward_dark
    marks = (apart_px - bleed) * problem.weight
    known = (values[:, _FOCAL:_FITTED] - problem.prior_mean) / problem.prior_sd
    return np.concatenate([marks, known], axis=1)


# steps of the numeric slopes: radians, px, logarithms, distortion, mm, px
_STEPS = np.array([*[1e-4] * 3, *[1e-2] * 2, 1e-5, 1e-4, 1e-4, *[1e-2] * 5, *[1e-2] * 2])


def _slopes(values: Floats, rotation: Floats, problem: _Problem) -> Floats:
    """Return (N + 9, 15) derivatives of the residuals, by central differences."""
    moved = np.concatenate([values + np.diag(_STEPS), values - np.diag(_STEPS)])
    wide = _residuals(moved, rotation, problem)
    return np.asarray(((wide[:_FITTED] - wide[_FITTED:]) / (2 * _STEPS[:, None])).T)


def _minimise(problem: _Problem, start: _Pose, ceiling: float) -> _Answer:
    """Minimise the sum of squared residuals (Levenberg and Marquardt).

    Gives up after a few steps while the sum is above the ceiling.
    """
    (rotation, values), damping = start, 1e-7
    rest = _residuals(values[None], rotation, problem)[0]
    for trials in range(60):
        if trials >= 4 and rest @ rest > ceiling:
            break
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
        values, rest, damping = values + step, trial, max(damping / 10, 1e-10)
        rotation = rotation_matrix(values[_TURN]) @ rotation
        values[_TURN] = 0  # folded into the rotation
        if gain < 1e-3:
            break
    slopes = _slopes(values, rotation, problem)
    return _Answer(
        rotation=rotation,
        values=values,
        cost=float(rest @ rest),
        rest=rest[: len(problem.points)],
        normal=slopes.T @ slopes,
    )


def _covariance(answers: list[_Answer]) -> Floats:
    """Return the (17, 17) covariance, wider where two poses explain the edges about as well."""
    best = answers[0]
    covariance = np.diag([*[0.0] * _FITTED, _HEIGHT_SD_MM**2, _SCALE_SD**2])
    spread = max(1.0, float(best.rest @ best.rest) / max(len(best.rest) - 8, 1))
    covariance[:_FITTED, :_FITTED] = np.linalg.inv(best.normal) * spread
    for other in answers[1:]:
        weight = float(np.exp(-(other.cost - best.cost) / 2 / spread))
        apart = np.zeros(_COUNT)
        apart[:_FITTED] = other.values - best.values
        apart[_TURN] = np.ravel(cv2.Rodrigues(other.rotation @ best.rotation.T)[0])
        covariance += weight / (1 + weight) * np.outer(apart, apart)
    if not np.isfinite(covariance).all() or np.linalg.eigvalsh(covariance)[0] <= 0:
        raise Refusal("reference-unclear")
    return covariance


def _make_plane(answers: list[_Answer], problem: _Problem) -> Plane:
    """Turn the best answer's table frame so that x runs as the photo's rows do at its middle."""
    best = answers[0]
    covariance = _covariance(answers)
    focal_px = problem.focal_px * float(np.exp(best.values[_FOCAL]))
    plane = Plane(
        middle_px=problem.middle_px,
        focal_px=focal_px,
        distortion=float(best.values[_DISTORTION]),
        rotation=best.rotation,
        place_mm=_place_mm(best.values[None, _PLACE], np.array([focal_px]))[0],
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

"""Pose, focal length, lens and bend from the marks of one square: a weighed least-squares fit.

The parameters are chosen so that each moves what the photo shows in its own way: the square's
middle in pixels and the scale there do not change when the focal length does.
"""

from dataclasses import dataclass, replace
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.measure.geometry import rotation_matrix, undistort
from motiffit.measure.photo import Photo
from motiffit.measure.reference import FoundReference

__all__ = [
    "BEND",
    "DISTORTION",
    "FITTED",
    "FOCAL",
    "PLACE",
    "PRINCIPAL",
    "TURN",
    "Answer",
    "Problem",
    "explain",
    "hit_table",
    "make_problem",
    "place_mm",
    "rival_problems",
    "seen_place",
]

Floats = NDArray[np.float64]

# Parameters, in this order
TURN = slice(0, 3)  # rotation vector on top of the rotation from table to camera
PLACE = slice(3, 6)  # middle of the square: x and y in px, and the logarithm of mm per px there
FOCAL = 6  # logarithm of focal length over its expectation
DISTORTION = 7
BEND = slice(8, 13)  # height of the card over the table: u, v, u^2, uv and v^2 of it, mm
_BLEED = slice(13, 15)  # by how much bright parts look too wide on each side, px, along u and v
PRINCIPAL = slice(15, 17)  # where the lens's axis meets the photo, px from its middle
FITTED = 17

_FILM_DIAGONAL_MM = 43.2666  # of the 36 x 24 mm frame, to which the 35 mm equivalent refers
_USUAL_FOCAL_MM, _USUAL_FOCAL_SD = 26.0, 0.12  # main phone cameras without camera data
_RIVAL_FOCAL_SD = 0.05  # Exif data that are not believed outright, e.g. a telephoto camera's
_NOTED_FOCAL_SD = 0.03  # Exif data: whole millimetres, and makers differ in what they refer to
_WHOLE_ASPECT = (1.3, 1.55)  # 4:3 and 3:2: the whole sensor
_CROPPED_FOCAL_SD = 0.08  # 16:9 and 1:1 are cut out of it, and makers differ in minding that
_CAMERA_ASPECTS = (1.0, 4 / 3, 3 / 2, 16 / 9)
_SAME_ASPECT = 0.01  # relative; a photo of another shape was cut by hand
_CUT_FOCAL, _CUT_FOCAL_SD = 0.1, 0.15  # logarithm: less of the sensor looks like a longer lens
_DISTORTION_SD = 0.02
_PRINCIPAL_SD = 0.003  # of the diagonal: lenses are centred, and steadied, no better than that
_CUT_PRINCIPAL_SD = 0.04  # cut by hand, on one side more than on the other
_CUT_STARTS = np.array(
    [[0, 0], [-1, -1], [1, -1], [1, 1], [-1, 1]]
)  # sds: else a pose may be missed
_BEND_SD_MM = (0.3, 0.3, 0.7, 0.4, 0.7)  # a card's edges rise by a millimetre or so
_BLEED_PX = {"card": 0.3, "square": 0.15}  # blur in linear light moves grey-coded edges so
_BLEED_SD_PX = {"card": 1.0, "square": 0.25}  # a card shows it; for a square it stays a guess

_HOPELESS = 100.0  # a pose whose sum of squares is this much larger explains nothing
_FAR = 10.0  # times that sum: not reached in the steps left
_OUTLYING = 4.0  # robust sds
_MOST_ROUNDS = 5
_CORNERS = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])  # clockwise, in sides
# steps of the numeric slopes: radians, px, logarithms, distortion, mm, px
_STEPS = np.array([*[1e-4] * 3, *[1e-2] * 2, 1e-5, 1e-4, 1e-4, *[1e-2] * 7, *[0.1] * 2])


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What is to be explained, and what is known beforehand."""

    points: Floats  # (N, 2) px from the middle of the photo
    axis: NDArray[np.int64]  # (N,)
    coordinate: Floats  # (N,) -1..1
    toward_dark: Floats  # (N,)
    weight: Floats  # (N,) 1 / sd in px
    px_per_mm: Floats  # (N,), across each mark
    side_mm: float
    corners_px: Floats
    focal_is_noted: bool  # by the camera
    focal_px: float  # to which the logarithm of the focal length refers
    prior_mean: Floats  # (11,), log focal, distortion, bend, bleed, principal point
    prior_sd: Floats
    middle_px: Floats
    axes_px: Floats  # (K, 2) from the middle, where the search for the lens's axis starts

    def of(self, kept: NDArray[np.bool_]) -> "Problem":
        """Return the problem with only the marks kept."""
        marks = ("points", "axis", "coordinate", "toward_dark", "weight", "px_per_mm")
        return replace(self, **{name: getattr(self, name)[kept] for name in marks})


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A minimum of the problem."""

    rotation: Floats
    values: Floats  # (17,), its turn zero
    cost: float  # sum of squares, in units of the sds
    rest: Floats  # (N,) the marks' part of it
    normal: Floats  # (17, 17)
    problem: Problem  # what it answers


_Start = tuple[Problem, Floats, Floats]  # rotation, and the fitted parameters on top of it


def make_problem(found: FoundReference, photo: Photo) -> Problem:
    """Gather the marks and what is known of the camera."""
    middle = np.array([(photo.width_px - 1) / 2, (photo.height_px - 1) / 2])
    diagonal = float(np.hypot(photo.width_px, photo.height_px))
    noted = photo.focal_35mm
    spans = np.linalg.norm(np.roll(found.corners_px, -1, axis=0) - found.corners_px, axis=1)
    spans = (spans[:2] + spans[2:]) / 2  # along u and v
    aspect = max(photo.width_px, photo.height_px) / min(photo.width_px, photo.height_px)
    focal, focal_sd = _focal_prior(aspect, is_noted=noted is not None)
    is_cut = _is_cut(aspect)
    axis_sd_px = (_CUT_PRINCIPAL_SD if is_cut else _PRINCIPAL_SD) * diagonal
    marks = found.marks
    bleed = _BLEED_PX[found.kind] * photo.full_per_px
    bleed_sd = _BLEED_SD_PX[found.kind] * photo.full_per_px
    return Problem(
        points=marks.points_px - middle,
        axis=marks.axis,
        coordinate=marks.coordinate,
        toward_dark=marks.toward_dark,
        weight=1 / marks.sd_px,
        px_per_mm=spans[marks.axis] / found.side_mm,
        side_mm=found.side_mm,
        corners_px=found.corners_px,
        focal_is_noted=noted is not None,
        focal_px=(noted or _USUAL_FOCAL_MM) / _FILM_DIAGONAL_MM * diagonal,
        prior_mean=np.array([focal, *[0.0] * 6, bleed, bleed, 0.0, 0.0]),
        prior_sd=np.array(
            [
                focal_sd,
                _DISTORTION_SD,
                *_BEND_SD_MM,
                *[bleed_sd] * 2,
                *[axis_sd_px] * 2,
            ]
        ),
        middle_px=middle,
        axes_px=(_CUT_STARTS if is_cut else _CUT_STARTS[:1]) * axis_sd_px,
    )


def _focal_prior(aspect: float, *, is_noted: bool) -> tuple[float, float]:
    """Return mean and sd of the logarithm of focal length over what is noted, or usual."""
    if _is_cut(aspect):
        return _CUT_FOCAL, _CUT_FOCAL_SD if is_noted else hypot(_CUT_FOCAL_SD, _USUAL_FOCAL_SD)
    whole = _WHOLE_ASPECT[0] < aspect < _WHOLE_ASPECT[1]
    noted_sd = _NOTED_FOCAL_SD if whole else _CROPPED_FOCAL_SD
    return 0.0, noted_sd if is_noted else _USUAL_FOCAL_SD


def _is_cut(aspect: float) -> bool:
    """Tell whether a photo's shape is none that a camera makes."""
    return all(abs(aspect / camera - 1) > _SAME_ASPECT for camera in _CAMERA_ASPECTS)


def rival_problems(problem: Problem, photo: Photo) -> list[Problem]:
    """Return the same problem for each focal length that the photo's camera may have noted."""
    rivals = []
    for focal_35mm in photo.focal_rivals_35mm:
        mean, sd = problem.prior_mean.copy(), problem.prior_sd.copy()
        mean[0], sd[0] = np.log(focal_35mm / _USUAL_FOCAL_MM), _RIVAL_FOCAL_SD
        rivals.append(replace(problem, focal_is_noted=True, prior_mean=mean, prior_sd=sd))
    return rivals


def _starts(found: FoundReference, problem: Problem) -> list[_Start]:
    """Return poses that explain four corners, two an axis, by IPPE (Collins and Bartoli, 2014)."""
    focal_px = problem.focal_px * float(np.exp(problem.prior_mean[0]))
    lens = np.diag([focal_px, focal_px, 1.0])
    square = np.column_stack([_CORNERS * problem.side_mm, np.zeros(4)])
    starts = []
    for axis_px in problem.axes_px:
        corners = found.corners_px - problem.middle_px - axis_px
        count, turns, places, _ = cv2.solvePnPGeneric(
            square, corners, lens, None, flags=cv2.SOLVEPNP_IPPE
        )
        for turn, place in zip(turns[:count], places[:count], strict=True):
            if np.isfinite(turn).all() and np.isfinite(place).all() and np.ravel(place)[2] > 0:
                values = np.zeros(FITTED)
                values[FOCAL:] = problem.prior_mean
                values[PLACE] = seen_place(np.ravel(place), focal_px)
                values[PRINCIPAL] = axis_px
                starts.append((problem, rotation_matrix(np.ravel(turn)), values))
    if not starts:
        raise Refusal("reference-unclear")
    return starts


def explain(problems: list[Problem], found: FoundReference) -> list[Answer]:
    """Find the poses that may explain the marks, the best first; marks that lie apart are left out.

    Problems differ in what is known beforehand alone, so that their answers can be compared.

    Raises
    ------
    Refusal
        If none does.
    """
    starts = [start for problem in problems for start in _starts(found, problem)]
    # a step may lead far astray before it is taken back
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        try:
            answers = _minimise_all(starts)
            for _ in range(_MOST_ROUNDS):  # outliers hide behind one another
                kept = _inliers(answers[0].rest)
                if kept.all():
                    break
                answers = _minimise_all(
                    [(each.problem.of(kept), each.rotation, each.values) for each in answers]
                )
            return answers
        except np.linalg.LinAlgError as error:
            raise Refusal("reference-unclear") from error


def _minimise_all(starts: list[_Start]) -> list[Answer]:
    """Minimise from each start; the best answer comes first."""
    answers: list[Answer] = []
    for start in starts:
        ceiling = min((answer.cost for answer in answers), default=np.inf) + _HOPELESS
        answer = _minimise(start, ceiling)
        if answer is not None:
            answers.append(answer)
    return sorted(answers, key=lambda answer: answer.cost)


def _inliers(rest: Floats) -> NDArray[np.bool_]:
    """Tell which marks lie where the others say; something may cover or shade a few."""
    usual = max(1.0, 1.4826 * float(np.median(np.abs(rest))))
    return np.asarray(np.abs(rest) < _OUTLYING * usual)


def _residuals(values: Floats, rotation: Floats, problem: Problem) -> Floats:
    """Return (P, N + 11) residuals in units of their sd for P parameter vectors (P, 17)."""
    half = problem.side_mm / 2
    focal = problem.focal_px * np.exp(values[:, FOCAL])
    rays = undistort(problem.points / focal[:, None, None], values[:, DISTORTION, None])
    rays = rays - values[:, None, PRINCIPAL] / focal[:, None, None]
    turned, place = (
        rotation_matrix(values[:, TURN]) @ rotation,
        place_mm(values[:, PLACE], focal),
    )
    u, v = np.moveaxis(hit_table(rays, turned, place, np.zeros((len(values), 1))) / half, -1, 0)
    shape = np.stack([u, v, u * u, u * v, v * v], axis=-1)
    lift = np.einsum("pns,ps->pn", shape, values[:, BEND])
    seen = hit_table(rays, turned, place, -lift)
    across = np.where(problem.axis == 0, seen[..., 0], seen[..., 1])
    apart_px = (across - problem.coordinate * half) * problem.px_per_mm
    bleed = values[:, _BLEED][:, problem.axis] * problem.toward_dark
    marks = (apart_px - bleed) * problem.weight
    known = (values[:, FOCAL:FITTED] - problem.prior_mean) / problem.prior_sd
    return np.concatenate([marks, known], axis=1)


def _slopes(values: Floats, rotation: Floats, problem: Problem) -> Floats:
    """Return (N + 11, 17) derivatives of the residuals, by central differences."""
    moved = np.concatenate([values + np.diag(_STEPS), values - np.diag(_STEPS)])
    wide = _residuals(moved, rotation, problem)
    return np.asarray(((wide[:FITTED] - wide[FITTED:]) / (2 * _STEPS[:, None])).T)


def _minimise(start: _Start, ceiling: float) -> Answer | None:
    """Minimise the sum of squared residuals (Levenberg and Marquardt).

    Gives up after a few steps while the sum is above the ceiling.
    """
    (problem, rotation, values), damping = start, 1e-7
    rest = _residuals(values[None], rotation, problem)[0]
    for trials in range(60):
        cost = rest @ rest
        if cost > ceiling and (trials >= 4 or (trials >= 2 and cost > _FAR * ceiling)):
            return None
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
        rotation = rotation_matrix(values[TURN]) @ rotation
        values[TURN] = 0  # folded into the rotation
        if gain < 1e-3:
            break
    slopes = _slopes(values, rotation, problem)
    return Answer(
        rotation=rotation,
        values=values,
        cost=float(rest @ rest),
        rest=rest[: len(problem.points)],
        normal=slopes.T @ slopes,
        problem=problem,
    )


def seen_place(place_mm: Floats, focal_px: float) -> Floats:
    """Return a place (3,) in the camera's frame as the photo shows it: almost free of the focal."""
    mm_per_px = place_mm[2] / focal_px
    return np.array([place_mm[0] / mm_per_px, place_mm[1] / mm_per_px, np.log(mm_per_px)])


def place_mm(seen: Floats, focal_px: Floats) -> Floats:
    """Return places (P, 3) in the camera's frame: the inverse of `seen_place`."""
    lifted = np.column_stack([seen[:, :2], focal_px])
    return np.asarray(lifted * np.exp(seen[:, 2:]))


def hit_table(rays: Floats, rotation: Floats, place: Floats, depth: Floats) -> Floats:
    """Return the table's (x, y) where rays (P, N, 2) reach z = depth (P, N or 1)."""
    lifted = np.concatenate([rays, np.ones((*rays.shape[:-1], 1))], axis=-1)
    heading = lifted @ rotation  # into the table's frame: the transpose, from the right
    eye = -np.einsum("pij,pi->pj", rotation, place)
    reach = (depth - eye[:, 2, None]) / heading[..., 2]
    return np.asarray(eye[:, None, :2] + reach[..., None] * heading[..., :2])

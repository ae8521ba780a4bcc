"""The cloth's plane: where each pixel of the photo lies on the cloth, with the doubt in it.

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
from motiffit.measure.pose import (
    BEND,
    DISTORTION,
    FITTED,
    FOCAL,
    PLACE,
    PRINCIPAL,
    TURN,
    Answer,
    Problem,
    explain,
    hit_table,
    make_problem,
    place_mm,
    rival_problems,
    seen_place,
)
from motiffit.measure.reference import FoundReference
from motiffit.record import Message, PlaneDigest, make_message

__all__ = ["ON_CLOTH_SD_MM", "Plane", "solve_plane"]

Floats = NDArray[np.float64]

# after the fitted parameters come two of which the photo says nothing
_HEIGHT = FITTED  # of the cloth over the table, mm
_SCALE = FITTED + 1  # logarithm of the true side over the stated one
_COUNT = FITTED + 2
_HEIGHT_MM, _HEIGHT_SD_MM = 3.0, 2.0  # cloth on the table, card on the table
ON_CLOTH_SD_MM = 1.0  # a card on the garment: folds under it, the print's own thickness
_SCALE_SD = 0.001  # a ruler reads a 100 mm square to 0.1 mm

_WORST_CONDITION = 1e12  # of the normal matrix, each unknown in its own unit: photos have some 1e7
_TILT_WARNED_DEG = 30.0
_TILT_REFUSED_DEG = 55.0
_LEAST_STEEPNESS = 0.2  # cosine against the table's normal: flatter looks show nothing to measure
_BENT_SDS = 3.0  # of what paper on a table does: edges 2 mm up, or two corners 1 mm
_STRAINED = 12.0  # sum of squares of what a plain square asks of camera and paper, in their sds:
# one in a hundred drawn from them asks for more, and seven in eight of which 2 % or more is covered
_BENT_MISFIT = 25.0  # mean square: marks lie five times as far off as those of a flat card


@dataclass(frozen=True, slots=True, kw_only=True)
class Plane:
    """How the photo's pixels map to the cloth, and how well that is known.

    Attributes
    ----------
    middle_px
        (2,) middle of the photo, about which the lens distorts.
    focal_px, distortion
        The lens; see `motiffit.record.PlaneDigest`.
    principal_px
        (2,) where the lens's axis meets the photo, from its middle.
    rotation, place_mm
        (3, 3) and (3,): table frame to camera frame.
    side_mm, corners_px
        The reference square: its side, and its corners (4, 2) in the photo.
    height_mm
        Height of the cloth above the square's plane.
    covariance
        (19, 19), of the parameters listed in `motiffit.measure.pose`, then
        of the cloth's height (mm) and the logarithm of the square's scale.
    messages
        What to look at.
    """

    middle_px: Floats
    focal_px: float
    distortion: float
    principal_px: Floats
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
        ideal = seen[:, :2] / seen[:, 2:] + self.principal_px / self.focal_px
        rays = distort(ideal, self.distortion)
        return np.asarray(rays * self.focal_px + self.middle_px)

    def sees(self, points_px: ArrayLike) -> NDArray[np.bool_]:
        """Return which pixels (N, 2) look down on the cloth's plane rather than past it."""
        points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
        rays = undistort((points - self.middle_px) / self.focal_px, self.distortion)
        rays = rays - self.principal_px / self.focal_px
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
        lens[:2, 2] = self.middle_px + self.principal_px
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
        values[PLACE] = seen_place(self.place_mm, self.focal_px)
        values[DISTORTION] = self.distortion
        values[PRINCIPAL] = self.principal_px
        values[_HEIGHT] = self.height_mm
        return values


def _to_cloth(points_px: Floats, parameters: Floats, plane: Plane) -> Floats:
    """Return (P, N, 2) places on the cloth for each of P parameter vectors."""
    focal = plane.focal_px * np.exp(parameters[:, FOCAL])
    rays = (points_px - plane.middle_px) / focal[:, None, None]
    rays = undistort(rays, parameters[:, DISTORTION, None])
    rays = rays - parameters[:, None, PRINCIPAL] / focal[:, None, None]
    rotation = rotation_matrix(parameters[:, TURN]) @ plane.rotation
    place = place_mm(parameters[:, PLACE], focal)
    places = hit_table(rays, rotation, place, -parameters[:, _HEIGHT, None])
    return np.asarray(places * np.exp(parameters[:, _SCALE])[:, None, None])


def solve_plane(found: FoundReference, photo: Photo) -> Plane:
    """Find pose, focal length and distortion that explain the square's edges best.

    Edges and prior knowledge are weighed by their standard deviations (a maximum a posteriori
    estimate); the inverse of the normal matrix is its covariance.

    Raises
    ------
    Refusal
        If the square is seen too obliquely, or no square explains the edges.
    """
    problem = make_problem(found, photo)
    answers = explain([problem, *rival_problems(problem, photo)], found)
    plane = _make_plane(answers, problem)
    if plane.tilt_deg > _TILT_REFUSED_DEG:
        raise Refusal("reference-too-oblique", tilt_deg=plane.tilt_deg)
    return replace(plane, messages=tuple(_messages(plane, answers[0], found.kind)))


def _covariance(answers: list[Answer]) -> Floats:
    """Return the (19, 19) covariance, wider where two poses explain the edges about as well."""
    best = answers[0]
    covariance = np.diag([*[0.0] * FITTED, _HEIGHT_SD_MM**2, _SCALE_SD**2])
    spread = max(1.0, float(best.rest @ best.rest) / max(len(best.rest) - 8, 1))
    # pixels, logarithms and millimetres side by side: unscaled, large photos would seem degenerate
    unit = np.sqrt(np.diag(best.normal))
    scaled = best.normal / np.outer(unit, unit)
    if not np.isfinite(scaled).all() or np.linalg.cond(scaled) > _WORST_CONDITION:
        raise Refusal("reference-unclear")
    covariance[:FITTED, :FITTED] = np.linalg.inv(scaled) / np.outer(unit, unit) * spread
    for other in answers[1:]:
        weight = float(np.exp(-(other.cost - best.cost) / 2 / spread))
        apart = np.zeros(_COUNT)
        apart[:FITTED] = other.values - best.values
        apart[TURN] = np.ravel(cv2.Rodrigues(other.rotation @ best.rotation.T)[0])
        covariance += weight / (1 + weight) * np.outer(apart, apart)
    return covariance


def _make_plane(answers: list[Answer], problem: Problem) -> Plane:
    """Turn the best answer's table frame so that x runs as the photo's rows do at its middle."""
    best = answers[0]
    covariance = _covariance(answers)
    focal_px = problem.focal_px * float(np.exp(best.values[FOCAL]))
    plane = Plane(
        middle_px=problem.middle_px,
        focal_px=focal_px,
        distortion=float(best.values[DISTORTION]),
        principal_px=best.values[PRINCIPAL].copy(),
        rotation=best.rotation,
        place_mm=place_mm(best.values[None, PLACE], np.array([focal_px]))[0],
        side_mm=problem.side_mm,
        corners_px=problem.corners_px,
        height_mm=_HEIGHT_MM,
        covariance=covariance,
        messages=(),
    )
    left, right = plane.to_mm(problem.middle_px + np.array([[-0.5, 0.0], [0.5, 0.0]]))
    angle = np.arctan2(right[1] - left[1], right[0] - left[0])
    plane = replace(plane, rotation=best.rotation @ rotation_matrix(np.array([0.0, 0.0, angle])))
    for array in (
        plane.middle_px,
        plane.principal_px,
        plane.rotation,
        plane.place_mm,
        plane.covariance,
    ):
        array.flags.writeable = False
    return plane


def _messages(plane: Plane, best: Answer, kind: str) -> list[Message]:
    """Say what makes the plane less certain."""
    messages = []
    if not best.problem.focal_is_noted:
        messages.append(make_message("focal-unknown"))
    if plane.tilt_deg > _TILT_WARNED_DEG:
        messages.append(make_message("tilted", tilt_deg=plane.tilt_deg))
    bend = np.abs(best.values[BEND]) / best.problem.prior_sd[BEND.start - FOCAL : BEND.stop - FOCAL]
    is_bent = bend.max() > _BENT_SDS or float(np.mean(best.rest**2)) > _BENT_MISFIT
    # a plain square has nothing within it to tell that an edge is covered: only an odd shape does
    is_odd = kind == "square" and best.cost - float(best.rest @ best.rest) > _STRAINED
    if is_bent or is_odd:
        messages.append(make_message("reference-bent"))
    return messages

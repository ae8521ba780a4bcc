"""Which motif counts, and how sure its size is once the plane's own error is added."""

from dataclasses import dataclass
from math import hypot

import cv2
import numpy as np
from numpy.typing import NDArray

from motiffit.errors import Refusal
from motiffit.measure.geometry import as_pairs, box_corners, rotate_vectors
from motiffit.measure.motif import P_SURE, TRUST_SURE, MotifBox, MotifsFound
from motiffit.measure.plane import Plane
from motiffit.record import Message, Motif, Sides, make_message
from motiffit.settings import Settings, Turn

__all__ = ["Choice", "choose_motifs", "outlined_motif", "place_on_cloth"]

_FAR_SD_MM = 2.5
"""Above this sd of a side from the plane alone, one size in three or four would be in doubt:
sizes step by 25 mm, and the square keeps about two sd on either side."""

_NEAR_MM = 25.4
"""A point this far beside a box does not mean its motif."""

_CROOKED_DEG = 3.0
"""Turn of a motif against the garment worth a word: 5 mm over the side of a 4 in square."""

_LEAST_SIDE_MM = 1.0
"""No motif is narrower: two points of a person's box are then in one spot."""

_BESIDE_PX = 1.0
"""How far beyond the photo's edge a person's point may lie: half a pixel and its rounding."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """The motifs, the one to propose first, and what to say about the choice."""

    motifs: tuple[Motif, ...]
    messages: tuple[Message, ...]


def choose_motifs(found: MotifsFound, plane: Plane, settings: Settings) -> Choice:
    """Put the motif that counts first: the person's choice, else the finder's best.

    Raises
    ------
    Refusal
        ``motif-none-there``, ``motif-none-near`` or ``motif-none-at-point`` when the settings ask
        for what is not there.
    """
    boxes = list(found.candidates)
    chosen_by_hand = settings.pick is not None or settings.near_px is not None
    if chosen_by_hand and not boxes:
        raise Refusal("motif-none-near")
    if settings.pick is not None:
        if settings.pick > len(boxes):
            raise Refusal("motif-none-there", pick=settings.pick, count=len(boxes))
        boxes.insert(0, boxes.pop(settings.pick - 1))
    elif settings.near_px is not None:
        point = place_on_cloth(np.array([settings.near_px]), plane)[0]
        boxes.sort(key=lambda box: _distance(box, point))
        if _distance(boxes[0], point)[0] > _NEAR_MM:
            raise Refusal("motif-none-at-point")
    messages = list(found.messages)
    if len(boxes) > 1 and not chosen_by_hand:
        messages.append(make_message("motif-several", count=len(boxes)))
    motifs = tuple(_measured(box, plane) for box in boxes)
    if motifs:
        # a person who points at a motif says that there is one, not that its box holds all of it
        if found.p_motif < P_SURE and not chosen_by_hand:
            messages.append(make_message("motif-maybe-none"))
        elif boxes[0].trust < TRUST_SURE:
            messages.append(make_message("motif-doubtful"))
        messages += _remarks(boxes[0], motifs[0], plane)
        turn_deg = boxes[0].own_angle_deg
        if settings.turn == "grain" and turn_deg is not None and abs(turn_deg) > _CROOKED_DEG:
            side = "right" if turn_deg > 0 else "left"
            messages.append(make_message("motif-crooked", angle_deg=abs(turn_deg), side=side))
    return Choice(motifs=motifs, messages=tuple(messages))


def outlined_motif(settings: Settings, plane: Plane, upright_deg: float) -> Choice:
    """Take the outline that a person gave instead of the finder's answer.

    The motif is the outline's bounding box on the cloth, along the garment's upright axis or, with
    ``turn='motif'``, along the axis that makes the box smallest.

    Raises
    ------
    Refusal
        ``outline-impossible`` when a point is not in the photo, or all are in one spot or line.
    """
    outline_px = np.asarray(settings.outline_px, float)
    if len(outline_px) == 2:
        (x0, y0), (x1, y1) = outline_px
        outline_px = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    points_mm = place_on_cloth(outline_px, plane)
    if min(cv2.minAreaRect(points_mm.astype(np.float32))[1]) < _LEAST_SIDE_MM:
        raise Refusal("outline-impossible")
    angle_deg = _box_angle(points_mm, upright_deg, settings.turn)
    local = rotate_vectors(points_mm, -angle_deg)
    low, high = local.min(axis=0), local.max(axis=0)
    middle = rotate_vectors((low + high)[None] / 2, angle_deg)[0]
    sd = settings.outline_sd_mm
    box = MotifBox(
        centre_mm=(float(middle[0]), float(middle[1])),
        width_mm=float(high[0] - low[0]),
        height_mm=float(high[1] - low[1]),
        angle_deg=angle_deg,
        edge_sd_mm=Sides(top=sd, right=sd, bottom=sd, left=sd),
        side_sd_mm=(hypot(sd, sd), hypot(sd, sd)),
        trust=1.0,
        own_angle_deg=None,
    )
    motif = _measured(box, plane)
    return Choice(motifs=(motif,), messages=tuple(_remarks(box, motif, plane)))


def place_on_cloth(points_px: NDArray[np.float64], plane: Plane) -> NDArray[np.float64]:
    """Return where on the cloth points lie that a person gave, ``(N, 2)`` mm.

    Raises
    ------
    Refusal
        ``outline-impossible`` when one lies outside the photo or beyond the table's horizon.
    """
    far = np.abs(points_px - plane.middle_px) > plane.middle_px + _BESIDE_PX
    if far.any() or not plane.sees(points_px).all():
        raise Refusal("outline-impossible")
    return plane.to_mm(points_px)


def _box_angle(points_mm: NDArray[np.float64], upright_deg: float, turn: Turn) -> float:
    """Axis of the box: the garment's, or within 45 degrees of it that of the smallest box."""
    if turn == "grain":
        return upright_deg
    free = cv2.minAreaRect(points_mm.astype(np.float32))[2]
    return upright_deg + (free - upright_deg + 45.0) % 90.0 - 45.0


def _distance(box: MotifBox, point: NDArray[np.float64]) -> tuple[float, float]:
    """Distance of a point from a box, then from its middle."""
    away = rotate_vectors((point - np.asarray(box.centre_mm))[None], -box.angle_deg)[0]
    across, along = np.abs(away) - (box.width_mm / 2, box.height_mm / 2)
    return hypot(max(across, 0.0), max(along, 0.0)), hypot(*away)


def _measured(box: MotifBox, plane: Plane) -> Motif:
    """Add the plane's error to the finder's and draw the box into the photo."""
    corners = box_corners(box.centre_mm, box.width_mm, box.height_mm, box.angle_deg)
    top, right, bottom, left = (corners + np.roll(corners, -1, axis=0)) / 2
    plane_width, plane_height = plane.length_sd_mm(np.array([left, top]), np.array([right, bottom]))
    edges = box.edge_sd_mm
    return Motif(
        corners_px=as_pairs(plane.to_px(corners)),
        centre_mm=box.centre_mm,
        width_mm=box.width_mm,
        height_mm=box.height_mm,
        angle_deg=box.angle_deg,
        sd_width_mm=hypot(plane_width, box.side_sd_mm[0]),
        sd_height_mm=hypot(plane_height, box.side_sd_mm[1]),
        sd_edges_mm=Sides(
            top=hypot(edges.top, float(plane_height) / 2),
            right=hypot(edges.right, plane_width / 2),
            bottom=hypot(edges.bottom, plane_height / 2),
            left=hypot(edges.left, plane_width / 2),
        ),
        trust=box.trust,
    )


def _remarks(box: MotifBox, motif: Motif, plane: Plane) -> list[Message]:
    """Say what a person should know of where the motif lies."""
    messages = [make_message("motif-cut")] if _is_cut(box, plane) else []
    corners = box_corners(motif.centre_mm, motif.width_mm, motif.height_mm, motif.angle_deg)
    diagonal = hypot(motif.width_mm, motif.height_mm)
    share = plane.length_sd_mm(corners[0], corners[2])[0] / max(diagonal, 1e-9)
    if share * max(motif.width_mm, motif.height_mm) > _FAR_SD_MM:
        messages.append(make_message("far-from-reference"))
    return messages


def _is_cut(box: MotifBox, plane: Plane) -> bool:
    """Tell whether a box reaches within the error of its edges of the photo's edge."""
    sd = box.edge_sd_mm
    aside = rotate_vectors(np.array([[sd.right - sd.left, sd.bottom - sd.top]]) / 2, box.angle_deg)[
        0
    ]
    reach = box_corners(
        (box.centre_mm[0] + aside[0], box.centre_mm[1] + aside[1]),
        box.width_mm + sd.left + sd.right,
        box.height_mm + sd.top + sd.bottom,
        box.angle_deg,
    )
    away = np.abs(plane.to_px(reach) - plane.middle_px)
    return bool((away > plane.middle_px + 0.5).any())  # the outer edge of the photo's last pixels

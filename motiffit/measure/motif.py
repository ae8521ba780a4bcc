"""The motif: found by the net, looked at a second time from near, drawn tight by its ink.

What a box's trust and its edges' errors mean was calibrated on real photos from homes that the net
never saw; ``docs/finder.md`` tells how, and how far it holds.
"""

from dataclasses import dataclass, replace
from functools import partial
from math import hypot

import numpy as np
from numpy.typing import NDArray

from motiffit.measure.cloth import Cloth
from motiffit.measure.flatview import FlatView
from motiffit.measure.garment import GarmentSeen
from motiffit.measure.network import Glance, glance_at
from motiffit.measure.odds import log_odds, probability
from motiffit.measure.presence import LEAST_P, WORTH_A_LOOK, p_at_most, p_of_motif
from motiffit.measure.tight import Tight, own_turn, tighten
from motiffit.measure.view import View, axes_of
from motiffit.measure.votes import Vote, common_votes, count_votes, overlap
from motiffit.record import Message, Point, Sides, make_message
from motiffit.settings import Turn

__all__ = ["MotifBox", "MotifsFound", "find_motifs"]

Floats = NDArray[np.float64]

_NEAR_PX = 256
_ZOOM = 2.3
_ZOOM_LEAST_MM = 36.0
"""Pixels of the second look, and its side in parts of the box found first; never less than a small
word needs. At 320 pixels no more boxes of 339 had IoU >= 0.8, and a look costs half again."""

_MOST_MOTIFS = 3
_LEAST_SCORE = 0.02
"""Below this score a box is not worth a look."""

_RIVAL_SCORE = 0.4
"""A further box counts as a motif of its own from this share of the first one's score."""

_P_PLAIN, _TRUST_PLAIN = 0.7, 0.5
"""Where a motif is less probable, or its box less to be trusted, the garment is looked at again,
mirrored: one in seven. Of 724 motifs, by six nets that knew none of their homes, 6 more are found
with IoU >= 0.5 for it, by six of another training 3 (docs/finder.md)."""

_TRUST_WEIGHTS = np.array([-9.97, 0.7, 0.28, -2.54, 0.69, 1.05])
"""Log odds that a box is right, IoU with the true one at least 0.8 (`_evidence` names what each
weighs); a logistic fit on 695 photos with a motif, each seen by a net that knew none of its home
(docs/finder.md)."""

_SD_OF_INKED, _SD_OF_BARE = 0.7, 1.0
_LEAST_SD_MM = 0.8
_BEYOND_TO_SD = 0.67
_SIDE_TAIL = 2.65
"""From the net's spread of an edge to its standard deviation, where ink confirms the edge and where
it does not, and from how far ink lies beyond an edge. Chosen on such photos so that few windows are
unsafe. Sides, whose intervals must also cover whole words missed, need over twice as much
(docs/finder.md)."""

_TURN_SD_DEG = 4.5
"""How far the turn of a garment that lies askew may be off: of those labelled straight, one in ten
seems turned by 5 degrees or more. Where a garment counts as straight its box errs outward only.
With 3 degrees two windows of 13 on garments askew were unsafe, none of 154 on straight ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MotifBox:
    """A motif's tight box on the cloth.

    Attributes
    ----------
    centre_mm
        The box's middle.
    width_mm, height_mm
        Its sides.
    angle_deg
        Turn of the box against the mm frame, clockwise.
    edge_sd_mm
        The finder's own error of each edge, without the plane's, as the window needs it.
    side_sd_mm
        The finder's own error of width and height, large enough that 95 % of all intervals hold,
        missed parts of a motif included.
    trust
        Probability, 0..1, that the box is the motif's and holds all of it.
    own_angle_deg
        The motif's own turn against the garment's upright; None if it shows none.
    """

    centre_mm: Point
    width_mm: float
    height_mm: float
    angle_deg: float
    edge_sd_mm: Sides
    side_sd_mm: tuple[float, float]
    trust: float
    own_angle_deg: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class MotifsFound:
    """The motifs, best first.

    Attributes
    ----------
    candidates
        Boxes, best first; empty when there is no motif.
    p_motif
        Probability, 0..1, that the garment has a motif.
    messages
        What a person should know.
    """

    candidates: tuple[MotifBox, ...]
    p_motif: float
    messages: tuple[Message, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Look:
    """One motif after the second look: its box in the frame of a turn, and what speaks for it."""

    vote: Vote  # the box it looked at
    tight: Tight
    spread_mm: Floats
    turn_deg: float
    score: float
    agreement: float


def find_motifs(flat: FlatView, cloth: Cloth, *, turn: Turn) -> MotifsFound:
    """Find what is to be framed on the garment.

    Parameters
    ----------
    flat
        The metric picture.
    cloth
        The garment on it.
    turn : {'grain', 'motif'}
        Whether boxes follow the garment's upright axis or the motif's own.

    Returns
    -------
    MotifsFound
        With ``no-motif`` when the cloth is plain, striped or printed all over.
    """
    seen = cloth.seen
    if seen is None or not cloth.mask.any():
        return _no_motif(0.0)
    near = partial(_look_again, flat, cloth.mask, seen.glance, turn_deg=seen.turn_deg)
    votes = count_votes(seen.glance, least_score=_LEAST_SCORE, most=_MOST_MOTIFS)
    p_motif = p_at_most(seen.glance, votes[0]) if votes else 0.0
    if p_motif < WORTH_A_LOOK:
        return _no_motif(p_motif)
    look = near(votes[0])
    p_motif = p_of_motif((seen.glance,), votes[0], look.score)
    if p_motif > WORTH_A_LOOK and (p_motif < _P_PLAIN or _trust(look) < _TRUST_PLAIN):
        glances = seen.glance, glance_at(flat, seen.glance.view, mirrored=True)
        votes = common_votes(*glances, least_score=_LEAST_SCORE, most=_MOST_MOTIFS)
        seen_already = np.array_equal(votes[0].box, look.vote.box)
        look = replace(look, vote=votes[0]) if seen_already else near(votes[0])
        p_motif = p_of_motif(glances, votes[0], look.score)
    if p_motif < LEAST_P:
        return _no_motif(p_motif)
    rivals = [vote for vote in votes[1:] if vote.score > _RIVAL_SCORE * votes[0].score]
    looks = [look, *(near(vote) for vote in rivals)]
    boxes = tuple(_measure(flat, cloth.mask, seen, one, turn) for one in looks)
    return MotifsFound(candidates=boxes, p_motif=p_motif, messages=())


def _no_motif(p_motif: float) -> MotifsFound:
    """Return what is found on cloth without a motif."""
    return MotifsFound(candidates=(), p_motif=p_motif, messages=(make_message("no-motif"),))


def _measure(
    flat: FlatView, mask: NDArray[np.bool_], seen: GarmentSeen, look: _Look, turn: Turn
) -> MotifBox:
    """Return the box of one motif, along the garment or, looked at once more, along itself."""
    own = own_turn(look.tight)
    if turn == "motif" and own is not None:
        look = _look_again(flat, mask, seen.glance, look.vote, seen.turn_deg + own)
    box, level = look.tight.box_mm, axes_of(look.turn_deg)
    x, y = level @ ((box[:2] + box[2:]) / 2)
    trust = _trust(look)
    left, top, right, bottom = _edge_sds(look, trust)
    return MotifBox(
        centre_mm=(float(x), float(y)),
        width_mm=float(box[2] - box[0]),
        height_mm=float(box[3] - box[1]),
        angle_deg=look.turn_deg,
        edge_sd_mm=Sides(top=top, right=right, bottom=bottom, left=left),
        side_sd_mm=(_SIDE_TAIL * hypot(left, right), _SIDE_TAIL * hypot(top, bottom)),
        trust=trust,
        own_angle_deg=own,
    )


def _look_again(
    flat: FlatView, mask: NDArray[np.bool_], first: Glance, vote: Vote, turn_deg: float
) -> _Look:
    """Look at one box from near, turned as it should be, and draw it tight."""
    corners = first.view.to_mm(vote.box[[[0, 1], [2, 1], [2, 3], [0, 3]]])
    x, y = corners.mean(axis=0)
    longest = float((vote.box[2:] - vote.box[:2]).max()) * first.view.mm_per_px
    view = View(
        centre_mm=(float(x), float(y)),
        side_mm=max(_ZOOM * longest, _ZOOM_LEAST_MM),
        turn_deg=turn_deg,
        px=_NEAR_PX,
    )
    second = glance_at(flat, view)
    places = view.to_px(corners)
    expected = np.concatenate([places.min(axis=0), places.max(axis=0)])
    again = count_votes(second, least_score=0.0, most=_MOST_MOTIFS)
    found = max(again, key=lambda v: v.score * (0.2 + overlap(expected, v.box[None])[0]))
    scale = view.mm_per_px
    centre = np.tile(axes_of(turn_deg).T @ np.array(view.centre_mm), 2)
    box_mm = centre + found.box * scale - view.side_mm / 2
    spread = found.spread * scale
    return _Look(
        vote=vote,
        tight=tighten(flat, mask, box_mm, spread, turn_deg),
        spread_mm=spread,
        turn_deg=turn_deg,
        score=found.score,
        agreement=float(overlap(expected, found.box[None])[0]),
    )


def _edge_sds(look: _Look, trust: float) -> tuple[float, float, float, float]:
    """Return the error (one sd, mm) of the left, top, right and bottom edge."""
    sd = look.spread_mm * np.where(look.tight.inked, _SD_OF_INKED, _SD_OF_BARE)
    sd *= min(max(1.5 - trust, 0.6), 1.2)  # a trusted box is sharper than its spreads say
    sd = np.hypot(np.maximum(sd, _BEYOND_TO_SD * look.tight.beyond_mm), _turn_sds(look))
    left, top, right, bottom = (float(v) for v in np.maximum(sd, _LEAST_SD_MM))
    return left, top, right, bottom


def _turn_sds(look: _Look) -> Floats:
    """Return how far (one sd, mm) an error of the turn moves left, top, right and bottom."""
    if look.turn_deg % 90 == 0:
        return np.zeros(4)
    width, height = look.tight.box_mm[2:] - look.tight.box_mm[:2]
    half = np.array([height, width, height, width]) / 2
    return np.asarray(half * np.sin(np.deg2rad(_TURN_SD_DEG)))


def _trust(look: _Look) -> float:
    """Return the probability that a box is the motif's and holds all of it."""
    return probability(float(_evidence(look) @ _TRUST_WEIGHTS))


def _evidence(look: _Look) -> Floats:
    """Return what speaks for a box."""
    size = float(np.sqrt(np.prod(look.tight.box_mm[2:] - look.tight.box_mm[:2])))
    return np.array(
        [
            1.0,
            log_odds(look.score),  # the second look's score
            log_odds(look.vote.score),  # the first look's
            np.log(look.spread_mm.mean() / max(size, 1.0)),  # how blunt the edges are
            np.log(look.agreement + 0.05),  # whether both looks found the same box
            look.tight.inked.mean() * (look.tight.ink is not None),  # share of edges on ink
        ]
    )

"""The motif: found by the net, looked at again from near, drawn tight by its ink.

What a box's trust and its edges' errors mean was calibrated on real photos from homes that the net
never saw; ``docs/finder.md`` tells how, and how far it holds.
"""

from collections.abc import Callable, Sequence
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

__all__ = ["P_SURE", "TRUST_SURE", "MotifBox", "MotifsFound", "find_motifs"]

Floats = NDArray[np.float64]

_NEAR_PX = 256
_ZOOM = 2.3
_ZOOM_LEAST_MM = 36.0
"""Pixels of the second look, and its side in parts of the box found first; never less than a small
word needs. At 320 pixels no more boxes of 339 had IoU >= 0.8, and a look costs half again."""

_MOST_MOTIFS = 3
_LEAST_SCORE = 0.02
"""Below this score a box is not worth a look."""

_RIVAL_SCORE, _RIVAL_TRUST = 0.4, 0.05
"""A further box counts as a motif of its own from this share of the first one's score, and above
this trust: of 42 garments with one motif and more boxes 22 had none above it."""

P_SURE = 0.75
"""Below this probability that there is a motif at all, a person is asked to look."""

TRUST_SURE = 0.6
"""Below this trust a person is asked to look at the box; 9 in 10 above it are right."""

_COARSE_PX = 256
"""Where a person would be asked, the net is asked first: it looks at the garment's mirror image,
once at this many pixels as well. What it says there of whether there is a motif helps; its boxes do
not (docs/finder.md)."""

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
    """One motif seen from near: its box in the frame of a turn, and what speaks for it."""

    vote: Vote  # the box it looked at
    tight: Tight
    spread_mm: Floats
    turn_deg: float
    score: float
    agreement: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Opinion:
    """What one look at the garment or several say of its motifs."""

    votes: Sequence[Vote]  # boxes, best first
    look: _Look  # from near, at the best
    p_motif: float

    @property
    def is_doubtful(self) -> bool:
        """Whether a person would be asked, so that the net is to be asked again first."""
        is_sure = self.p_motif >= P_SURE and _trust(self.look) >= TRUST_SURE
        return self.p_motif > WORTH_A_LOOK and not is_sure


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
    votes = count_votes(seen.glance, least_score=_LEAST_SCORE, most=_MOST_MOTIFS)
    p_motif = p_at_most(seen.glance, votes[0]) if votes else 0.0
    if p_motif < WORTH_A_LOOK:
        return _no_motif(p_motif)
    near = partial(_look_from_near, flat, cloth.mask, seen.glance, turn_deg=seen.turn_deg)
    look = near(votes[0])
    p_motif = p_of_motif((seen.glance,), votes[0], look.score)
    opinion = _Opinion(votes=votes, look=look, p_motif=p_motif)
    if opinion.is_doubtful:
        opinion = _second_opinion(flat, seen.glance, opinion, near)
    if opinion.p_motif < LEAST_P:
        return _no_motif(opinion.p_motif)
    least = _RIVAL_SCORE * opinion.votes[0].score
    looks = [opinion.look, *(near(vote) for vote in opinion.votes[1:] if vote.score > least)]
    best, *others = (_measure(flat, cloth.mask, seen, one, turn) for one in looks)
    boxes = (best, *(box for box in others if box.trust > _RIVAL_TRUST))
    return MotifsFound(candidates=boxes, p_motif=opinion.p_motif, messages=())


def _second_opinion(
    flat: FlatView, glance: Glance, first: _Opinion, near: Callable[[Vote], _Look]
) -> _Opinion:
    """Return what the garment and its mirror image say together."""
    mirrored = glance_at(flat, glance.view, mirrored=True)
    coarse = glance_at(flat, replace(glance.view, px=_COARSE_PX), mirrored=True)
    votes = common_votes(glance, mirrored, least_score=_LEAST_SCORE, most=_MOST_MOTIFS)
    is_same = np.array_equal(votes[0].box, first.look.vote.box)
    look = replace(first.look, vote=votes[0]) if is_same else near(votes[0])
    p_motif = p_of_motif((glance, mirrored, coarse), votes[0], look.score)
    return _Opinion(votes=votes, look=look, p_motif=p_motif)


def _no_motif(p_motif: float) -> MotifsFound:
    """Return what is found on cloth without a motif."""
    return MotifsFound(candidates=(), p_motif=p_motif, messages=(make_message("no-motif"),))


def _measure(
    flat: FlatView, mask: NDArray[np.bool_], seen: GarmentSeen, look: _Look, turn: Turn
) -> MotifBox:
    """Return the box of one motif, along the garment or, looked at once more, along itself."""
    own = own_turn(look.tight)
    if turn == "motif" and own is not None:
        look = _look_from_near(flat, mask, seen.glance, look.vote, seen.turn_deg + own)
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


def _look_from_near(
    flat: FlatView, mask: NDArray[np.bool_], first: Glance, vote: Vote, turn_deg: float
) -> _Look:
    """Look at one box from near, turned as it should be, and draw it tight."""
    corners = first.view.to_mm(vote.box[[[0, 1], [2, 1], [2, 3], [0, 3]]])
    x, y = corners.mean(axis=0)
    longest_mm = vote.longest * first.view.mm_per_px
    view = View(
        centre_mm=(float(x), float(y)),
        side_mm=max(_ZOOM * longest_mm, _ZOOM_LEAST_MM),
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
            log_odds(look.score),  # its score from near
            log_odds(look.vote.score),  # its score at the garment
            np.log(look.spread_mm.mean() / max(size, 1.0)),  # how blunt the edges are
            np.log(look.agreement + 0.05),  # whether it is the same box from near
            look.tight.inked.mean() * (look.tight.ink is not None),  # share of edges on ink
        ]
    )

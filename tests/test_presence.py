"""Whether a garment has a motif: how what the net says of it is weighed."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from flats import make_flat

from motiffit.measure import presence
from motiffit.measure.flatview import FlatView
from motiffit.measure.network import Glance, Opinion, glance_at, mirrored_opinion
from motiffit.measure.presence import LEAST_P, WORTH_A_LOOK, p_at_most, p_of_motif
from motiffit.measure.view import View
from motiffit.measure.votes import Vote

BLUE, RED = (62, 98, 171), (196, 52, 44)
VIEW = View(centre_mm=(0.0, 0.0), side_mm=480.0, turn_deg=0.0, px=320)
FLAT = make_flat([])


def seen(p_net: float) -> Glance:
    none = np.zeros((2, 2), np.float32)
    boxes = np.zeros((2, 2, 4), np.float32)
    return Glance(
        view=VIEW, p_motif=p_net, scores=none, boxes=boxes, spreads=boxes, cloth=none,
        turn_deg=0.0, steadiness=1.0,
    )  # fmt: skip


def vote(score: float, side_mm: float = 60.0) -> Vote:
    side = side_mm / VIEW.mm_per_px
    return Vote(box=np.array([10.0, 10.0, 10 + side, 14.0]), spread=np.ones(4), score=score)


def refuse(*_: Any) -> Opinion:
    raise AssertionError("the net was asked again")


@pytest.mark.parametrize(
    ("p_net", "score", "least", "most"),
    [(0.99, 0.9, 0.9, 1), (0.01, 0.03, 0, 0.05)],
)
def test_what_is_plain_is_not_asked_again(
    p_net: float, score: float, least: float, most: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(presence, "mirrored_opinion", refuse)
    assert least <= p_of_motif(FLAT, seen(p_net), vote(score), score) <= most


def test_what_is_doubtful_is_asked_again_and_both_answers_count_alike(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def answer(opinion: Opinion) -> float:
        monkeypatch.setattr(presence, "mirrored_opinion", lambda *_: opinion)
        return p_of_motif(FLAT, seen(0.4), vote(0.3), 0.7)

    same = answer(Opinion(p_motif=0.4, score=0.3))
    assert LEAST_P < same < 0.7
    assert answer(Opinion(p_motif=0.05, score=0.05)) < LEAST_P
    assert answer(Opinion(p_motif=0.95, score=0.8)) > 2 * same
    monkeypatch.setattr(presence, "mirrored_opinion", lambda *_: Opinion(p_motif=0.3, score=0.4))
    swapped = p_of_motif(FLAT, seen(0.5), vote(0.25), 0.4)
    monkeypatch.setattr(presence, "mirrored_opinion", lambda *_: Opinion(p_motif=0.5, score=0.25))
    assert p_of_motif(FLAT, seen(0.3), vote(0.4), 0.4) == pytest.approx(swapped)


def test_what_is_as_small_as_a_button_needs_more_to_speak_for_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(presence, "mirrored_opinion", lambda *_: Opinion(p_motif=0.4, score=0.3))
    sides = (10.0, 25.0, 60.0, 150.0)
    by_size = [p_of_motif(FLAT, seen(0.4), vote(0.3, side), 0.4) for side in sides]
    assert by_size == sorted(by_size)
    assert by_size[0] < LEAST_P < by_size[-1]


def test_a_look_from_near_is_saved_only_where_it_could_not_matter() -> None:
    for p_net in (0.001, 0.02, 0.3):
        for score in (0.02, 0.1, 0.4):
            if p_at_most(seen(p_net), vote(score)) < WORTH_A_LOOK:
                assert p_of_motif(FLAT, seen(p_net), vote(score), 0.97) < WORTH_A_LOOK
    assert p_at_most(seen(0.001), vote(0.02)) < WORTH_A_LOOK < p_at_most(seen(0.3), vote(0.1))


def test_mirrored_opinion_is_that_of_the_mirrored_cloth() -> None:
    cloth = 220 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    flag = np.array([[-60.0, -70.0], [90.0, -20.0], [10.0, 60.0]])
    flat = make_flat([(cloth, BLUE), (flag, RED)], card_mm=(-230.0, 190.0))
    ends = flat.to_mm([[0.0, 0.0], [flat.valid.shape[1] - 1.0, 0.0]])[:, 0]
    mirrored = FlatView(
        picture=np.ascontiguousarray(flat.picture[:, ::-1]),
        mm_per_px=flat.mm_per_px,
        origin_mm=flat.origin_mm - [ends.sum(), 0.0],
        valid=np.ascontiguousarray(flat.valid[:, ::-1]),
        reference_mm=flat.reference_mm[::-1] * [-1.0, 1.0],
    )
    view = replace(VIEW, px=256)
    plain, opinion = glance_at(mirrored, view), mirrored_opinion(flat, view)
    assert opinion.p_motif == pytest.approx(plain.p_motif, abs=0.002)
    assert opinion.score == pytest.approx(float(plain.scores.max()), abs=0.002)
    assert abs(opinion.p_motif - glance_at(flat, view).p_motif) > 0.005

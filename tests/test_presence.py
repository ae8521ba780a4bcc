"""Whether a garment has a motif: how what the net says of it is weighed."""

from dataclasses import replace

import numpy as np
import pytest

from motiffit.measure.network import Glance
from motiffit.measure.presence import LEAST_P, WORTH_A_LOOK, p_at_most, p_of_motif
from motiffit.measure.view import View
from motiffit.measure.votes import Vote

VIEW = View(centre_mm=(0.0, 0.0), side_mm=480.0, turn_deg=0.0, px=320)


def seen(p_net: float, best_score: float) -> Glance:
    boxes = np.zeros((2, 2, 4), np.float32)
    return Glance(
        view=VIEW, p_motif=p_net, scores=np.array([[0, 0], [best_score, 0]], np.float32),
        boxes=boxes, spreads=boxes, cloth=np.zeros((2, 2), np.float32), turn_deg=0.0,
        steadiness=1.0,
    )  # fmt: skip


def box(side_mm: float = 60.0) -> Vote:
    side = side_mm / VIEW.mm_per_px
    return Vote(box=np.array([10.0, 10.0, 10 + side, 14.0]), spread=np.ones(4), score=0.5)


def test_what_all_speaks_for_is_probable_and_what_nothing_does_is_not() -> None:
    assert p_of_motif([seen(0.99, 0.9)], box(), 0.9) > 0.9
    assert p_of_motif([seen(0.01, 0.03)], box(), 0.03) < WORTH_A_LOOK


def test_two_looks_count_alike() -> None:
    one, other = seen(0.5, 0.25), seen(0.3, 0.4)
    both = p_of_motif([one, other], box(), 0.4)
    assert both == pytest.approx(p_of_motif([other, one], box(), 0.4))
    alone = sorted(p_of_motif([glance], box(), 0.4) for glance in (one, other))
    assert alone[0] < both < alone[1]
    assert p_of_motif([one, one], box(), 0.4) == pytest.approx(p_of_motif([one], box(), 0.4))
    assert p_of_motif([one, seen(0.02, 0.02)], box(), 0.4) < LEAST_P


def test_what_is_as_small_as_a_button_needs_more_to_speak_for_it() -> None:
    sides = (10.0, 25.0, 60.0, 150.0)
    by_size = [p_of_motif([seen(0.4, 0.3)], box(side), 0.4) for side in sides]
    assert by_size == sorted(by_size)
    assert by_size[0] < LEAST_P < by_size[-1]


def test_the_size_is_that_of_the_box_in_the_first_look_however_coarse_the_others() -> None:
    fine = seen(0.4, 0.3)
    coarse = replace(fine, view=replace(VIEW, px=256))
    assert p_of_motif([fine, coarse], box(), 0.4) == pytest.approx(p_of_motif([fine], box(), 0.4))


def test_a_look_from_near_is_saved_only_where_it_could_not_matter() -> None:
    for p_net in (0.001, 0.02, 0.3):
        for score in (0.02, 0.1, 0.4):
            glance = seen(p_net, score)
            by_near = [p_of_motif([glance], box(), near) for near in (0.01, 0.5, 0.9, 0.97)]
            assert max(by_near) <= p_at_most(glance, box())
    assert p_at_most(seen(0.001, 0.02), box()) < WORTH_A_LOOK < LEAST_P

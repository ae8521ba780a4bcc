"""The finder's net, its views, its votes and the ink: numbers, and the way to millimetres."""

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from flats import make_flat, turned

from motiffit.measure import network
from motiffit.measure.flatview import FlatView
from motiffit.measure.ink import find_ink
from motiffit.measure.network import Glance, glance_at, shipped_network
from motiffit.measure.patch import cut_patch
from motiffit.measure.relief import find_relief
from motiffit.measure.tight import own_turn, tighten
from motiffit.measure.view import View, axes_of, take_view
from motiffit.measure.votes import common_votes, count_votes, overlap

# what PyTorch 2.13 computes from the trained net for the picture of `blocks`
GOLDEN = Path(__file__).parent / "golden" / "finder_net.json"
TRAINED_PX = 320
VIEW = View(centre_mm=(31.0, -12.0), side_mm=240.0, turn_deg=23.0, px=TRAINED_PX)
# log odds, and share of them: the file keeps its weights as half floats, joined to their norms
HALF_FLOATS, HALF_FLOAT_SHARE = 0.03, 0.003
RED, BLUE = (203, 41, 52), (62, 98, 171)


def blocks() -> np.ndarray:
    small = np.random.default_rng(7).integers(0, 256, (20, 20, 3), dtype=np.uint8)
    return np.repeat(np.repeat(small, 16, axis=0), 16, axis=1)


def test_opencv_computes_what_the_framework_does() -> None:
    expected = json.loads(GOLDEN.read_text())
    nothing_hidden = np.zeros((TRAINED_PX, TRAINED_PX), bool)
    has, cells, masks, up = shipped_network().answer(blocks(), nothing_hidden)
    got = {
        "has": has,
        "cells": cells[:, 5::15, 7::15],
        "masks": masks[:, 10::30, 20::30],
        "up": up[:, 3::8, 5::8],
    }
    for name, values in got.items():
        np.testing.assert_allclose(
            values.ravel(), expected[name], HALF_FLOAT_SHARE, HALF_FLOATS, err_msg=name
        )


def test_hidden_parts_do_not_reach_the_answer() -> None:
    hidden = np.zeros((TRAINED_PX, TRAINED_PX), bool)
    hidden[:, 200:] = True
    other = blocks()
    other[:, 200:] = 255 - other[:, 200:]
    first, second = (shipped_network().answer(p, hidden) for p in (blocks(), other))
    for a, b in zip(first, second, strict=True):
        np.testing.assert_array_equal(a, b)


def test_a_damaged_file_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    data = bytearray(network._PATH.read_bytes())
    data[len(data) // 2] ^= 1
    damaged = tmp_path / "finder.onnx"
    damaged.write_bytes(bytes(data))
    monkeypatch.setattr(network, "_PATH", damaged)
    shipped_network.cache_clear()
    with pytest.raises(RuntimeError, match="damaged"):
        shipped_network()
    shipped_network.cache_clear()


def test_view_and_cloth_are_one_map_both_ways() -> None:
    points = np.array([[0.0, 0.0], [320.0, 0.0], [17.3, 288.8], [160.0, 160.0]])
    np.testing.assert_allclose(VIEW.to_px(VIEW.to_mm(points)), points, atol=1e-9)
    np.testing.assert_allclose(VIEW.to_mm([[160, 160]])[0], VIEW.centre_mm)
    side = np.linalg.norm(VIEW.to_mm([[320, 0]]) - VIEW.to_mm([[0, 0]]))
    assert side == pytest.approx(VIEW.side_mm)


@pytest.mark.parametrize("px", [256, TRAINED_PX])
@pytest.mark.parametrize("side_mm", [90.0, 240.0, 700.0])
def test_a_spot_is_shown_where_the_view_says(side_mm: float, px: int) -> None:
    at = np.array([44.0, -21.0])
    view = replace(VIEW, side_mm=side_mm, px=px)
    square = at + 9.0 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    picture, _ = take_view(make_flat([(square, RED)], noise=0.0), view)
    redness = picture[..., 0].astype(float) - picture[..., 2]
    rows, cols = np.nonzero(redness > 0.75 * redness.max())
    seen_mm = view.to_mm([[cols.mean() + 0.5, rows.mean() + 0.5]])[0]
    np.testing.assert_allclose(seen_mm, at, atol=0.5)


def test_card_and_what_lies_beyond_the_photo_are_hidden() -> None:
    flat = make_flat([], card_mm=(-230.0, 190.0))
    view = View(centre_mm=(-230.0, 190.0), side_mm=300.0, turn_deg=0.0, px=TRAINED_PX)
    _, hidden = take_view(flat, view)
    assert hidden[160, 160]  # the card
    assert hidden[160, 2]  # left of the photo, which ends at -306.5 mm
    assert not hidden[40, 250]


def test_boxes_lie_where_they_do_however_many_pixels_the_net_is_shown() -> None:
    cloth = 250 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    true = np.array([-8.0, -61.0, 73.0, 38.0])
    flat = make_flat([(cloth, BLUE), (true[[[0, 1], [2, 1], [2, 3], [0, 3]]], RED)])
    for px in (256, TRAINED_PX):
        view = View(centre_mm=(31.0, -12.0), side_mm=240.0, turn_deg=0.0, px=px)
        (vote,) = count_votes(glance_at(flat, view), least_score=0.3, most=3)
        found = view.to_mm(vote.box.reshape(2, 2)).ravel()
        np.testing.assert_allclose(found, true, atol=10.0)  # a ninth of its side


def test_a_mirrored_look_says_of_the_cloth_what_a_look_at_the_mirrored_cloth_does() -> None:
    cloth = turned(220 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]), 9.0, (0.0, 0.0))
    flag = np.array([[-60.0, -70.0], [90.0, -20.0], [10.0, 60.0]])
    flat = make_flat([(cloth, BLUE), (flag, RED)], card_mm=(-230.0, 190.0))
    ends = flat.to_mm([[0.0, 0.0], [flat.valid.shape[1] - 1.0, 0.0]])[:, 0]
    mirror = FlatView(
        picture=np.ascontiguousarray(flat.picture[:, ::-1]),
        mm_per_px=flat.mm_per_px,
        origin_mm=flat.origin_mm - [ends.sum(), 0.0],
        valid=np.ascontiguousarray(flat.valid[:, ::-1]),
        reference_mm=flat.reference_mm[::-1] * [-1.0, 1.0],
    )
    view = View(centre_mm=(0.0, 0.0), side_mm=480.0, turn_deg=0.0, px=256)
    plain, back = glance_at(mirror, view), glance_at(flat, view, mirrored=True)
    assert back.p_motif == pytest.approx(plain.p_motif, abs=0.002)
    assert back.turn_deg == pytest.approx(-plain.turn_deg, abs=0.1)
    assert abs(plain.turn_deg) > 1.0
    np.testing.assert_allclose(back.scores, plain.scores[:, ::-1], atol=0.01)
    np.testing.assert_allclose(back.cloth, plain.cloth[:, ::-1], atol=0.1)
    right, left = (count_votes(one, least_score=0.2, most=1)[0] for one in (back, plain))
    swapped = left.box[[2, 1, 0, 3]] * [-1, 1, -1, 1] + [256, 0, 256, 0]
    np.testing.assert_allclose(right.box, swapped, atol=0.3)
    np.testing.assert_allclose(right.spread, left.spread[[2, 1, 0, 3]], rtol=0.02)


def make_cornered(picture: np.ndarray) -> FlatView:
    """A flat view of 2 pixels to a millimetre, its origin in the corner and no card in the way."""
    return FlatView(
        picture=picture,
        mm_per_px=0.5,
        origin_mm=np.zeros(2),
        valid=np.ones(picture.shape[:2], bool),
        reference_mm=np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]),
    )


def glance(scores: np.ndarray, boxes: np.ndarray) -> Glance:
    return Glance(
        view=VIEW, p_motif=0.9, scores=scores.astype(np.float32), boxes=boxes.astype(np.float32),
        spreads=np.full(boxes.shape, 2.0, np.float32), cloth=np.zeros((4, 4), np.float32),
        turn_deg=0.0, steadiness=1.0,
    )  # fmt: skip


def test_votes_average_boxes_that_agree_and_keep_others_apart() -> None:
    boxes = np.array(
        [[[10, 10, 50, 50], [12, 10, 52, 50]], [[200, 200, 240, 250], [12, 12, 30, 30]]]
    )
    scores = np.array([[0.8, 0.8], [0.5, 0.45]])
    votes = count_votes(glance(scores, boxes), least_score=0.3, most=3)
    assert len(votes) == 2  # the small box lies inside the first and is a part of it
    np.testing.assert_allclose(votes[0].box, [11, 10, 51, 50])
    np.testing.assert_allclose(votes[1].box, [200, 200, 240, 250])
    assert votes[0].score == pytest.approx(0.8)


def test_of_two_glances_the_box_counts_that_both_agree_on() -> None:
    left, right, far = [10, 10, 50, 50], [60, 10, 100, 50], [200, 200, 250, 250]
    one = glance(np.array([[0.6, 0.5], [0.3, 0.0]]), np.array([[left, right], [far, left]]))
    other = glance(np.array([[0.1, 0.6], [0.0, 0.25]]), np.array([[left, right], [left, far]]))
    alone = count_votes(one, least_score=0.02, most=3)
    np.testing.assert_allclose(alone[0].box, left)
    votes = common_votes(one, other, least_score=0.02, most=3)
    np.testing.assert_allclose([vote.box for vote in votes], [right, left, far])
    assert [vote.score for vote in votes] == pytest.approx([0.55, 0.35, 0.275])
    assert len(common_votes(one, other, least_score=0.02, most=2)) == 2


def test_a_glance_beside_itself_finds_the_box_that_it_found() -> None:
    boxes = [[0, 0, 100, 100]] + [[0, 0, 164, 100], [0, 0, 100, 164]] * 3
    scores = np.array([[0.8] + [0.45] * 6])
    one = glance(scores, np.array([boxes]))
    (alone,), (both,) = (
        count_votes(one, least_score=0.02, most=1),
        common_votes(one, one, least_score=0.02, most=1),
    )
    np.testing.assert_array_equal(both.box, alone.box)


def test_a_box_that_one_glance_alone_sees_has_half_its_score_and_parts_do_not_count() -> None:
    whole, part, none = [10, 10, 90, 50], [10, 10, 40, 50], [0, 0, 1, 1]
    one = glance(np.array([[0.8, 0.0]]), np.array([[whole, none]]))
    other = glance(np.array([[0.7, 0.0]]), np.array([[part, none]]))
    (vote,) = common_votes(one, other, least_score=0.02, most=3)
    np.testing.assert_allclose(vote.box, whole)
    assert vote.score == pytest.approx(0.4)


def test_overlap_of_boxes() -> None:
    others = np.array([[0.0, 0.0, 10.0, 10.0], [5.0, 0.0, 15.0, 10.0], [20.0, 0.0, 30.0, 10.0]])
    np.testing.assert_allclose(overlap(others[0], others), [1.0, 1 / 3, 0.0])


@pytest.mark.parametrize("turn_deg", [0.0, 23.0])
def test_ink_ends_where_it_was_drawn(turn_deg: float) -> None:
    axes = axes_of(turn_deg)
    box = np.array([-31.3, -22.1, 34.9, 18.4])  # in the turned frame
    drawn = box[[[0, 1], [2, 1], [2, 3], [0, 3]]] @ axes.T
    cloth = 200 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    flat = make_flat([(cloth, BLUE), (drawn, RED)], mm_per_px=0.5)
    rough = box + np.array([3.0, -2.0, -2.5, 3.0])
    tight = tighten(flat, np.ones(flat.valid.shape, bool), rough, np.full(4, 2.0), turn_deg)
    assert tight.inked.all()
    np.testing.assert_allclose(tight.box_mm, box, atol=1.0)  # two pixels
    assert own_turn(tight) is None


def test_a_long_words_margin_is_cut_off_by_what_its_length_allows() -> None:
    word = np.array([-80.0, -11.0, 80.0, 11.0])
    cloth = 200 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    flat = make_flat([(cloth, BLUE), (word[[[0, 1], [2, 1], [2, 3], [0, 3]]], RED)], mm_per_px=0.5)
    margin = 6.0  # over a fourth of its height, a twentieth of its length
    loose = word + np.array([0.0, 0.0, 0.0, margin])
    tight = tighten(flat, np.ones(flat.valid.shape, bool), loose, np.full(4, 2.0), 0.0)
    np.testing.assert_allclose(tight.box_mm, word, atol=1.0)


def test_a_bare_margin_is_cut_off_but_ink_beyond_is_not_run_after_as_far() -> None:
    drawn = np.array([-30.0, -10.0, 30.0, 10.0])
    cloth = 200 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    paints = [(cloth, BLUE), (drawn[[[0, 1], [2, 1], [2, 3], [0, 3]]], RED)]
    flat = make_flat(paints, mm_per_px=0.5)
    mask, spread = np.ones(flat.valid.shape, bool), np.full(4, 1.2)
    margin = np.array([0.0, -3.8, 0.0, 3.8])
    wide, narrow = (tighten(flat, mask, drawn + off, spread, 0.0) for off in (margin, -margin))
    assert wide.inked.all()
    np.testing.assert_allclose(wide.box_mm, drawn, atol=1.0)
    np.testing.assert_array_equal(narrow.box_mm, drawn - margin)


def test_no_ink_where_the_ground_is_as_wild_as_the_box() -> None:
    flat = make_flat([], noise=60.0)
    box = np.array([-30.0, -20.0, 30.0, 20.0])
    patch = cut_patch(flat, np.ones(flat.valid.shape, bool), box, 0.0)
    assert patch is not None
    assert find_ink(patch) is None
    assert find_relief(patch) is None


WORDS = np.array([131.0, 163.0, 262.0, 231.0])


def tone_on_tone(*, seam: bool = False, hem_mm: float = 400.0) -> FlatView:
    """Six hollow letters a little paler than their cloth, whose folds are twice as strong."""
    rows, cols = np.mgrid[:800, :800] * 0.5
    shade = 176 + 34 * np.sin(cols / 31) * np.cos(rows / 43)
    left, top, _, bottom = WORDS
    for start in left + 22.0 * np.arange(6):
        within = (cols >= start) & (cols < start + 21) & (rows >= top) & (rows < bottom)
        hole = (abs(cols - start - 10.5) < 5.5) & (rows >= top + 5) & (rows < bottom - 5)
        shade[within & ~hole] += 17
    if seam:  # through the middle of the words and beyond
        shade[(abs(cols - 196) < 0.5) & (rows > 100) & (rows < 330)] -= 20
    shade[rows >= hem_mm] = 60
    noise = np.random.default_rng(8).normal(0, 2.0, (800, 800, 3))
    return make_cornered(np.clip(shade[..., None] + noise, 0, 255).astype(np.uint8))


@pytest.mark.parametrize("seam", [False, True])
def test_outlines_in_the_cloths_own_colour_end_where_they_were_drawn(seam: bool) -> None:
    flat = tone_on_tone(seam=seam)
    rough = WORDS + np.array([-2.0, -3.0, 5.0, 6.0])
    patch = cut_patch(flat, flat.valid, rough, 0.0)
    assert patch is not None
    assert find_ink(patch) is None  # the folds are as strong
    tight = tighten(flat, flat.valid, rough, np.full(4, 3.0), 0.0)
    assert tight.inked.all()
    assert np.abs(tight.box_mm - WORDS).max() < 0.7 * np.abs(rough - WORDS).max()
    relief = find_relief(patch)
    assert relief is not None
    outward = (relief.edges_mm - WORDS) * [-1, -1, 1, 1]
    assert (outward > -0.5).all()
    assert (outward < 2.7).all()  # three pixels of its patch


@pytest.mark.parametrize("off_mm", [-3.0, -2.0, -1.0, 0.0, 1.0])
def test_no_edge_is_drawn_inward_past_the_motifs_own_outline(off_mm: float) -> None:
    flat = tone_on_tone()
    rough = WORDS + off_mm * np.array([-1.0, -1.0, 1.0, 1.0])
    tight = tighten(flat, flat.valid, rough, np.full(4, 3.0), 0.0)
    inward = (rough - tight.box_mm) * [-1, -1, 1, 1]
    assert inward.max() <= max(off_mm, 0.0)


@pytest.mark.parametrize("below_mm", [2.0, 4.0, 6.0])
def test_near_the_hem_an_edge_stays_where_it_is(below_mm: float) -> None:
    hem = WORDS[3] + below_mm
    flat = tone_on_tone(hem_mm=hem)
    cloth = flat.valid & (np.arange(800)[:, None] * 0.5 < hem)
    patch = cut_patch(flat, cloth, WORDS, 0.0)
    assert patch is not None
    assert find_ink(patch) is None
    tight = tighten(flat, cloth, WORDS, np.full(4, 3.0), 0.0)
    assert tight.box_mm[3] == WORDS[3]
    assert not tight.inked[3]


def test_threads_take_turns() -> None:
    net = shipped_network()
    rng = np.random.default_rng(5)
    pictures = [rng.integers(0, 255, (TRAINED_PX, TRAINED_PX, 3), dtype=np.uint8) for _ in range(4)]
    nothing = np.zeros((TRAINED_PX, TRAINED_PX), bool)
    alone = [net.answer(picture, nothing) for picture in pictures]
    with ThreadPoolExecutor(4) as pool:
        together = list(pool.map(lambda picture: net.answer(picture, nothing), pictures))
    for one, other in zip(alone, together, strict=True):
        for mine, theirs in zip(one, other, strict=True):
            assert np.array_equal(mine, theirs)


@pytest.mark.parametrize("side_mm", [60.0, 120.0, 200.0])
def test_a_pale_rim_round_a_strong_print_is_ink(side_mm: float) -> None:
    rows, cols = np.mgrid[:800, :800] * 0.5
    far = np.maximum(abs(cols - 200), abs(rows - 200))
    picture = np.full((800, 800, 3), 225, np.uint8)
    picture[far < side_mm / 2 + 3] = (170, 190, 215)
    picture[far < side_mm / 2] = (20, 30, 80)
    flat = make_cornered(picture)
    true = 200 + (side_mm / 2 + 3) * np.array([-1.0, -1.0, 1.0, 1.0])
    patch = cut_patch(flat, flat.valid, true, 0.0)
    assert patch is not None
    ink = find_ink(patch)
    assert ink is not None
    np.testing.assert_allclose(ink.edges_mm, true, atol=1.0)


def test_a_ring_of_one_column_is_no_fault() -> None:
    picture = np.full((700, 700, 3), 200, np.uint8)
    picture[420:580, 420:580] = (30, 40, 90)
    flat = make_cornered(picture)
    cloth = np.zeros((700, 700), bool)
    cloth[400:600, 400:600] = cloth[400:600, 392] = True
    box = np.array([200.0, 200.0, 300.0, 300.0])
    patch = cut_patch(flat, cloth, box, 0.0)
    assert patch is not None
    find_ink(patch)  # raised that a matrix is singular

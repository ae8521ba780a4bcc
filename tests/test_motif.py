"""Motifs found by the net, against drawn truth."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from flats import SHIRT, make_flat, turned

from motiffit.measure import motif
from motiffit.measure.cloth import separate_cloth
from motiffit.measure.flatview import FlatView
from motiffit.measure.motif import MotifBox, MotifsFound, find_motifs
from motiffit.measure.network import Glance, glance_at
from motiffit.measure.view import View
from motiffit.settings import Turn

SIDE_MM = 4.0  # two cells of the search grid on either edge
BLUE, ORANGE, CREAM = (62, 98, 171), (228, 92, 40), (236, 228, 205)
MIDDLE = (23.7, -11.2)
BOAT = np.array(
    [[-46.2, 12.4], [-11.0, -38.7], [14.3, -31.5], [44.1, 12.4], [31.0, 41.9], [-30, 36]]
)


def find(
    paints: list[tuple[np.ndarray, tuple[int, int, int]]], turn: Turn = "grain"
) -> MotifsFound:
    flat = make_flat(paints)
    return find_motifs(flat, separate_cloth(flat), turn=turn)


def polygon(box: MotifBox) -> shapely.Polygon:
    half = np.array([box.width_mm, box.height_mm]) / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    return shapely.Polygon(turned(corners, box.angle_deg, box.centre_mm))


@pytest.mark.parametrize("turn_deg", [0.0, -17.3])
def test_box_is_tight_and_follows_the_garment(turn_deg: float) -> None:
    found = find(
        [(turned(SHIRT, turn_deg, MIDDLE), BLUE), (turned(BOAT, turn_deg, MIDDLE), ORANGE)]
    )
    box = found.candidates[0]
    width, height = np.ptp(BOAT, axis=0)
    assert box.width_mm == pytest.approx(width, abs=SIDE_MM)
    assert box.height_mm == pytest.approx(height, abs=SIDE_MM)
    assert box.angle_deg == pytest.approx(turn_deg, abs=1.5)
    assert found.messages == ()
    assert found.p_motif > 0.8


def test_turned_motif_says_so_and_its_own_box_is_smaller() -> None:
    bar = np.array([[-60, -12], [60, -12], [60, 12], [-60, 12]])
    paints = [(turned(SHIRT, 0, MIDDLE), BLUE), (turned(bar, 14.0, MIDDLE), ORANGE)]
    grain, own = (find(paints, turn).candidates[0] for turn in ("grain", "motif"))
    assert grain.own_angle_deg == pytest.approx(14.0, abs=2.0)
    assert own.angle_deg == pytest.approx(14.0, abs=2.0)
    assert polygon(own).area < 0.7 * polygon(grain).area


def test_picture_and_word_are_one_motif() -> None:
    shirt = (turned(SHIRT, 0, MIDDLE), BLUE)
    letter = np.array([[-3, -6], [3, -6], [3, 6], [-3, 6]])
    word = [(letter + MIDDLE + [dx, 32.0], ORANGE) for dx in np.arange(-27.0, 28.0, 9.0)]
    boat = (BOAT * 0.6 + MIDDLE, ORANGE)
    together = find([shirt, boat, *word]).candidates
    assert len(together) == 1
    assert together[0].height_mm == pytest.approx(0.6 * 38.7 + 38.0, abs=SIDE_MM)


def test_plain_striped_and_dotted_cloth_has_no_motif() -> None:
    shirt = turned(SHIRT, 0, (0.0, 0.0))
    inside = shapely.Polygon(shirt)
    stripes, dots = [], []
    for y in np.arange(-160, 160, 22.0):
        band = inside.intersection(shapely.box(-200, y, 200, y + 9))
        stripes += [np.array(g.exterior.coords) for g in getattr(band, "geoms", [band])]
    for y in np.arange(-140, 150, 26.0):
        for x in np.arange(-78, 80, 26.0):
            dots.append(np.array(shapely.Point(x, y).buffer(6.5).exterior.coords))
    for extra in ([], stripes, dots):
        found = find([(shirt, BLUE), *((shape, CREAM) for shape in extra)])
        assert found.candidates == ()
        assert [message.code for message in found.messages] == ["no-motif"]


def test_an_empty_floor_has_no_motif() -> None:
    assert find([]).candidates == ()


LEFT, RIGHT = (-45.0, -60.0), (40.0, 60.0)


class Stage:
    """A shirt with two shapes, and what the net is made to say of it; from near it says its own."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        paints = [(SHIRT, BLUE), (BOAT * 0.7 + LEFT, ORANGE), (BOAT * 0.7 + RIGHT, CREAM)]
        self._flat = make_flat(paints)
        self._cloth = separate_cloth(self._flat)
        self._mirrored: dict[int, Glance] = {}
        self.mirrored_px: list[int] = []
        self.near_at: list[tuple[float, float]] = []
        monkeypatch.setattr(motif, "glance_at", self._glance_at)

    def find(
        self,
        first: tuple[float, ...],
        mirrored: tuple[float, ...],
        coarse: tuple[float, ...] | None = None,
    ) -> MotifsFound:
        """Let the net say of shirt and mirror image: p of a motif, scores of left and right."""
        assert self._cloth.seen is not None
        self._mirrored = {320: self._say(*mirrored), 256: self._say(*(coarse or mirrored))}
        seen = replace(self._cloth.seen, glance=self._say(*first))
        return find_motifs(self._flat, replace(self._cloth, seen=seen), turn="grain")

    def _say(self, p_net: float, left: float, right: float) -> Glance:
        assert self._cloth.seen is not None
        glance = self._cloth.seen.glance
        ends = [BOAT.min(axis=0) * 0.7, BOAT.max(axis=0) * 0.7]
        corners = [glance.view.to_px(np.array(ends) + middle).ravel() for middle in (LEFT, RIGHT)]
        return replace(
            glance,
            p_motif=p_net,
            scores=np.array([[left, right]], np.float32),
            boxes=np.array([corners], np.float32),
            spreads=np.full((1, 2, 4), 2.0, np.float32),
        )

    def _glance_at(self, flat: FlatView, view: View, *, mirrored: bool = False) -> Glance:
        if mirrored:
            self.mirrored_px.append(view.px)
            return replace(self._mirrored[view.px], view=view)
        self.near_at.append(view.centre_mm)
        return glance_at(flat, view)


SURE, UNSURE = (0.99, 0.9, 0.1), (0.5, 0.3, 0.25)


@pytest.fixture
def stage(monkeypatch: pytest.MonkeyPatch) -> Stage:
    return Stage(monkeypatch)


def test_a_plain_answer_is_not_asked_for_twice(stage: Stage) -> None:
    found = stage.find(SURE, UNSURE)
    assert found.p_motif > 0.9
    assert found.candidates[0].trust > 0.6
    assert stage.mirrored_px == []


def test_in_doubt_the_box_counts_that_both_looks_find_best(stage: Stage) -> None:
    found = stage.find(UNSURE, (0.5, 0.1, 0.6))
    assert found.candidates[0].centre_mm == pytest.approx(
        RIGHT + np.ptp(BOAT, axis=0) * 0.35 + BOAT.min(axis=0) * 0.7, abs=SIDE_MM
    )
    assert stage.mirrored_px == [320, 256]
    assert len(set(stage.near_at)) == 2


def test_the_same_box_is_not_looked_at_from_near_twice(stage: Stage) -> None:
    found = stage.find(UNSURE, (0.5, 0.9, 0.01))
    alone = stage.find((0.5, 0.6, 0.13), (0.5, 0.6, 0.13))  # its score is the mean of both looks
    assert found.candidates[0].trust == pytest.approx(alone.candidates[0].trust)
    assert len(stage.near_at) == 2  # one look each


def test_a_mirror_image_without_a_motif_counts_against_one(stage: Stage) -> None:
    assert stage.find(UNSURE, UNSURE).p_motif > 0.3
    found = stage.find(UNSURE, (0.001, 0.01, 0.01))
    assert [message.code for message in found.messages] == ["no-motif"]


def test_the_coarse_look_has_a_say_in_whether_there_is_a_motif_but_not_where(stage: Stage) -> None:
    agreed = stage.find(UNSURE, UNSURE)
    denied = stage.find(UNSURE, UNSURE, coarse=(0.05, 0.1, 0.2))
    assert denied.p_motif < 0.8 * agreed.p_motif
    assert denied.candidates[0].centre_mm == agreed.candidates[0].centre_mm


@pytest.mark.parametrize(("first", "trust"), [(SURE, 0.5), (UNSURE, 0.9)])
def test_a_doubt_of_either_kind_is_enough(
    first: tuple[float, ...], trust: float, stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(motif, "_trust", lambda _: trust)
    stage.find(first, first)
    assert len(stage.mirrored_px) == 2


def test_where_nothing_speaks_for_a_motif_no_further_look_is_taken(stage: Stage) -> None:
    found = stage.find((0.01, 0.03, 0.03), SURE)
    assert found.candidates == ()
    assert stage.mirrored_px == []


def test_a_further_box_hardly_to_be_trusted_is_no_motif(
    stage: Stage, monkeypatch: pytest.MonkeyPatch
) -> None:
    both = (0.99, 0.9, 0.8)
    assert len(stage.find(both, both).candidates) == 2
    trusts = {LEFT: 0.9, RIGHT: 0.02}
    monkeypatch.setattr(motif, "_trust", lambda look: trusts[LEFT if is_left(look) else RIGHT])
    (box,) = stage.find(both, both).candidates
    assert box.trust == 0.9


def is_left(look: motif._Look) -> bool:
    return bool(look.tight.box_mm[0] < 0)

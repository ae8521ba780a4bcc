"""Motifs found by the net, against drawn truth."""

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


def test_the_net_is_asked_again_only_in_doubt(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def glance(flat: FlatView, view: View, *, mirrored: bool = False) -> Glance:
        asked.append(mirrored)
        return glance_at(flat, view, mirrored=mirrored)

    monkeypatch.setattr(motif, "glance_at", glance)
    shirt = (turned(SHIRT, 0, MIDDLE), BLUE)
    plain = find([shirt, (BOAT + MIDDLE, ORANGE)])
    assert plain.candidates[0].trust > 0.5
    assert asked == [False]
    asked.clear()
    faint = find([shirt, (BOAT * 0.3 + MIDDLE, (66, 102, 176))])
    assert asked.count(True) == 1
    assert faint.p_motif < 0.7

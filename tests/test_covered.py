"""Cards of which something covers an edge: told, and measured by what shows of the pattern."""

from dataclasses import replace

import cv2
import numpy as np
import pytest
from camera import Camera
from numpy.typing import NDArray
from photofile import photo_of
from scenes import Light, Reference, Scene, render, truth_of

from motiffit.measure.photo import Photo
from motiffit.measure.plane import solve_plane
from motiffit.measure.reference import FoundReference, find_reference
from motiffit.settings import Settings

CARD = Reference(turn_deg=12.0)
CAMERA = Camera(tilt_deg=8.0, azimuth_deg=40.0, aim_mm=(60.0, 0.0), distance_mm=560.0)
SLEEVE, HAND, PAPER = (70, 110, 160), (224, 180, 150), (240, 238, 232)


def scene_of(card: Reference = CARD) -> Scene:
    return Scene(camera=CAMERA, references=(card,), light=Light(noise=2.0))


def covered(scene: Scene, share: float, side: int, colour: tuple[int, int, int]) -> Photo:
    """A photo of a card over whose edge lies something that hides a share of its side."""
    (card,) = scene.references
    half = card.side_mm / 2
    edge = half - share * card.side_mm
    # not quite along the card's edge
    strip = np.array([[edge, -1.6 * half], [edge + 1, 1.6 * half], [2, 1.6], [2, -1.6]])
    strip[2:] *= half
    turn = np.deg2rad(90.0 * side)
    strip = strip @ np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    picture = render(scene).copy()
    corners = np.round(card.place(scene.camera, strip) * 16).astype(np.int32)
    cv2.fillConvexPoly(picture, corners, colour, cv2.LINE_AA, 4)
    return photo_of(np.asarray(cv2.GaussianBlur(picture, (0, 0), 0.7), np.uint8))


def codes(found: FoundReference) -> list[str]:
    return [message.code for message in found.messages]


def sides_mm(found: FoundReference, photo: Photo, scene: Scene) -> NDArray[np.float64]:
    """The card's sides as the plane measures them between its true corners."""
    plane = solve_plane(found, photo).at_height(0.0, 0.0)
    corners = plane.to_mm(truth_of(scene).reference_px[0])
    return np.asarray(np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1))


@pytest.mark.parametrize("colour", [SLEEVE, HAND, PAPER])
@pytest.mark.parametrize("share", [0.012, 0.03, 0.055])
@pytest.mark.parametrize("side", [0, 1, 2])
def test_a_covered_edge_is_told_and_does_not_change_the_scale(
    side: int, share: float, colour: tuple[int, int, int]
) -> None:
    scene = scene_of()
    photo = covered(scene, share, side, colour)
    found = find_reference(photo, Settings())
    assert codes(found) == ["reference-covered"]
    # followed as it seems, the edge would make the scale wrong by the share covered and more
    assert np.abs(sides_mm(found, photo, scene) / CARD.side_mm - 1).max() < 0.004


@pytest.mark.parametrize("edge", [(0.6, 0.0, 0.0, 0.0, 0.0), (0.0, 0.0, 1.4, 0.8, -1.4)])
@pytest.mark.parametrize("tilt_deg", [0.0, 25.0])
def test_a_bent_card_is_not_said_to_be_covered(
    tilt_deg: float, edge: tuple[float, float, float, float, float]
) -> None:
    scene = scene_of(replace(CARD, bend_mm=edge))  # two sds of what paper on a table does
    scene = replace(scene, camera=replace(CAMERA, tilt_deg=tilt_deg))
    assert codes(find_reference(photo_of(render(scene)), Settings())) == []


def test_a_small_card_is_not_said_to_be_covered() -> None:
    picture = cv2.resize(render(scene_of()), None, fx=0.15, fy=0.15, interpolation=cv2.INTER_AREA)
    found = find_reference(photo_of(np.asarray(picture, np.uint8)), Settings())
    assert codes(found) == ["reference-small"]


def test_a_glint_on_an_edge_is_no_cover() -> None:
    scene = scene_of()
    picture = render(scene).copy()
    a, b = truth_of(scene).reference_px[0][:2]
    spot = (a + 0.4 * (b - a)).round().astype(int)
    cv2.circle(picture, spot.tolist(), int(0.04 * np.linalg.norm(b - a)), (250, 250, 250), -1)
    assert codes(find_reference(photo_of(picture), Settings())) == []


def test_a_plain_square_with_a_covered_edge_is_doubted() -> None:
    paper = Reference(kind="square", side_mm=76.2, turn_deg=12.0, paper=(246, 226, 92))
    scene = scene_of(paper)
    asked = Settings(side_mm=76.2)
    for side in range(4):
        photo = covered(scene, 0.045, side, SLEEVE)
        said = solve_plane(find_reference(photo, asked), photo).messages
        assert [message.code for message in said] == ["reference-bent"], side
    whole = photo_of(render(scene))
    assert solve_plane(find_reference(whole, asked), whole).messages == ()

"""Finding the reference square: precision against drawn truth, and everything that goes wrong."""

import json
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import cv2
import numpy as np
import pytest
from camera import Camera
from numpy.typing import NDArray
from photofile import photo_of
from pyapriltags import Detector
from scenes import Garment, Light, Reference, Scene, make_scene, render, truth_of
from shapes import shirt, square
from skimage import data

from motiffit.errors import Refusal
from motiffit.measure.cards import find_cards
from motiffit.measure.photo import read_photo
from motiffit.measure.plausible import tell_side
from motiffit.measure.reference import FoundReference, find_reference
from motiffit.record import make_message
from motiffit.settings import Settings

SAMPLES = Path(__file__).parents[1] / "sample_images"
USUAL = Settings()


def found_in(scene: Scene, settings: Settings = USUAL) -> FoundReference:
    return find_reference(photo_of(render(scene)), settings)


def refusal_of(picture: NDArray[np.uint8], settings: Settings = USUAL) -> str:
    with pytest.raises(Refusal) as caught:
        find_reference(photo_of(picture), settings)
    assert make_message(caught.value.code, **caught.value.details).severity == "error"
    return caught.value.code


def corner_errors(found: NDArray[np.float64], truth: NDArray[np.float64]) -> NDArray[np.float64]:
    """Differences (4, 2), whichever corner comes first."""
    turns = [np.roll(found, turn, axis=0) - truth for turn in range(4)]
    return min(turns, key=lambda error: float(np.abs(error).max()))


def mean_side(corners: NDArray[np.float64]) -> float:
    return float(np.linalg.norm(corners - np.roll(corners, -1, axis=0), axis=1).mean())


def random_tag(rng: np.random.Generator) -> tuple[NDArray[np.uint8], NDArray[np.float64], int]:
    """A tag in perspective, drawn fine and averaged down; picture, corners and id.

    Light is blurred in grey levels here, so that the edges lie at half height: what the edge
    fitting is to find without any shift.
    """
    fine, size = 6, np.array([420, 340])
    side, turn = rng.uniform(90, 220), rng.uniform(0, 2 * np.pi)
    axes = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    corners = size / 2 + rng.uniform(-12, 12, 2) + square(side) @ axes + rng.normal(0, 3, (4, 2))
    marker_id = int(rng.integers(10, 300))
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    face = np.full((100, 100), 232, np.uint8)
    cells = cv2.aruco.generateImageMarker(family, marker_id, 80)
    face[10:-10, 10:-10] = np.where(np.asarray(cells) > 127, 232, 28)
    marker = np.array([[9.5, 9.5], [89.5, 9.5], [89.5, 89.5], [9.5, 89.5]], np.float32)
    to_fine = cv2.getPerspectiveTransform(marker, ((corners + 0.5) * fine - 0.5).astype(np.float32))
    drawn = cv2.warpPerspective(
        face, to_fine, size * fine, flags=cv2.INTER_NEAREST, borderValue=(140.0,)
    )
    grey = cv2.resize(drawn, size, interpolation=cv2.INTER_AREA).astype(float)
    grey = cv2.GaussianBlur(grey, (0, 0), rng.uniform(0.6, 1.2)) + rng.normal(0, 2, size[::-1])
    picture = np.clip(grey, 0, 255).round().astype(np.uint8)
    return np.repeat(picture[..., None], 3, axis=2), corners, marker_id


@pytest.fixture(scope="module")
def tags() -> list[SimpleNamespace]:
    """Sixty tags with what was found and what an independent detector says."""
    rng, detector = np.random.default_rng(20), Detector(families="tag36h11", quad_decimate=1.0)
    rows = []
    for _ in range(60):
        picture, truth, marker_id = random_tag(rng)
        (other,) = detector.detect(picture[..., 0])
        # its pixels start at a corner of the first one, and it runs the other way round
        independent = np.asarray(other.corners)[::-1] - 0.5
        found = find_reference(photo_of(picture), USUAL)
        rows.append(SimpleNamespace(truth=truth, id=marker_id, found=found, other=independent))
        assert other.tag_id == marker_id
    return rows


def test_corners_are_precise(tags: list[SimpleNamespace]) -> None:
    errors = [corner_errors(row.found.corners_px, row.truth) for row in tags]
    # the best independent detector reaches 0.014 to 0.046 px here (domain notes 5.1)
    assert np.sqrt(np.mean(np.square(errors))) < 0.05
    assert np.abs(np.mean(errors, axis=(0, 1))).max() < 0.01


def test_sides_are_not_shrunk(tags: list[SimpleNamespace]) -> None:
    ratios = [mean_side(row.found.corners_px) / mean_side(row.truth) for row in tags]
    # the stock detector's own refinement makes sides 0.14 % too short (measured, design.md)
    assert abs(np.mean(ratios) - 1) < 0.0002


def test_corners_agree_with_an_independent_detector(tags: list[SimpleNamespace]) -> None:
    errors = [corner_errors(row.found.corners_px, row.other) for row in tags]
    assert np.sqrt(np.mean(np.square(errors))) < 0.06
    assert np.abs(errors).max() < 0.3


def test_the_marker_tells_the_side(tags: list[SimpleNamespace]) -> None:
    assert all(row.found.side_mm == row.id for row in tags)  # ids 10..299 are millimetres
    assert {row.found.kind for row in tags} == {"card"}


def test_stated_deviation_of_marks_is_honest(tags: list[SimpleNamespace]) -> None:
    unit = square(2.0)
    shares = []
    for row in tags:
        corners, marks = row.found.corners_px, row.found.marks
        turn = int(np.argmin([np.abs(np.roll(row.truth, t, 0) - corners).max() for t in range(4)]))
        lattice = cv2.getPerspectiveTransform(
            np.roll(row.truth, turn, axis=0).astype(np.float32), unit.astype(np.float32)
        )
        uv = cv2.perspectiveTransform(marks.points_px[None], lattice)[0]
        across = uv[np.arange(len(uv)), marks.axis] - marks.coordinate
        shares.extend(across * mean_side(corners) / 2 / marks.sd_px)
    # cautious, not careless: printed and photographed cards scatter three times as much as these
    assert 0.1 < np.sqrt(np.mean(np.square(shares))) < 1.0
    assert abs(np.mean(shares)) < 0.05


def test_both_kinds_are_found_in_scenes() -> None:
    for seed in range(4):
        scene = make_scene(seed)
        found = found_in(scene)
        assert found.kind == "card"
        assert found.side_mm == scene.references[0].side_mm
        # blur in linear light makes black squares look smaller by up to a pixel: that is undone
        errors = corner_errors(found.corners_px, truth_of(scene).reference_px[0])
        assert np.abs(errors).max() < 0.3
        assert found.messages == ()


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_turning_the_photo_turns_the_corners(turns: int) -> None:
    picture = render(make_scene(5))
    before = find_reference(photo_of(picture), USUAL).corners_px
    turned = np.ascontiguousarray(np.rot90(picture, turns))
    after = find_reference(photo_of(turned), USUAL).corners_px
    # a quarter turn against the clock takes (x, y) to (y, width - 1 - x)
    expected = before
    width, height = picture.shape[1], picture.shape[0]
    for side in [width, height, width][:turns]:
        expected = np.column_stack([expected[:, 1], side - 1 - expected[:, 0]])
    assert np.abs(corner_errors(after, expected)).max() < 0.02


@pytest.mark.parametrize("zoom", [0.35, 0.7, 1.6, 2.6])
def test_cards_are_found_at_any_size(zoom: float) -> None:
    scene = make_scene(6)
    picture = cv2.resize(
        render(scene),
        None,
        fx=zoom,
        fy=zoom,
        interpolation=cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC,
    )
    found = find_reference(photo_of(np.asarray(picture, np.uint8)), USUAL)
    expected = (truth_of(scene).reference_px[0] + 0.5) * zoom - 0.5
    assert np.abs(corner_errors(found.corners_px, expected)).max() < max(0.6, 0.6 * zoom)


def test_reduced_pictures_tell_full_pixels() -> None:
    scene = make_scene(7)
    whole = photo_of(render(scene))
    half = np.asarray(
        cv2.resize(whole.picture[:1208, :1612], (806, 604), interpolation=cv2.INTER_AREA), np.uint8
    )
    reduced = replace(whole, picture=half, full_per_px=2.0, width_px=1612, height_px=1208)
    errors = corner_errors(
        find_reference(reduced, USUAL).corners_px, find_reference(whole, USUAL).corners_px
    )
    assert np.abs(errors.mean(axis=0)).max() < 0.1  # a wrong centre would show as 0.5
    assert np.abs(errors).max() < 0.5


def test_settings_override_the_printed_side() -> None:
    found = found_in(make_scene(1), Settings(side_mm=95.5))
    assert found.side_mm == 95.5
    assert found.coded_mm == found_in(make_scene(1)).side_mm


@pytest.mark.parametrize(
    ("code_mm", "said_mm", "told"),
    [(101.6, 76.2, 1), (101.6, 99.5, 0), (101.6, None, 0), (162.0, 96.0, 0), (None, 96.0, 0)],
)
def test_a_side_that_overrides_the_code_is_told(
    code_mm: float | None, said_mm: float | None, told: int
) -> None:
    # 99.5 mm: a page that the printer made to fit; no card is printed with 162 mm
    messages = tell_side(code_mm, Settings(side_mm=said_mm))
    assert [message.code for message in messages] == ["reference-side-said"] * told


def test_a_marker_of_no_known_side_needs_one() -> None:
    scene = replace(make_scene(1), references=(Reference(marker_id=5),))
    assert refusal_of(render(scene)) == "reference-unknown-side"
    assert found_in(scene, Settings(side_mm=101.6)).side_mm == 101.6


def bare(*references: Reference, **changes: float) -> Scene:
    """References on a bare table, seen from above."""
    camera = Camera(tilt_deg=6.0, azimuth_deg=40.0, aim_mm=(120.0, 0.0), distance_mm=560.0)
    return Scene(camera=camera, references=references, light=Light(**changes))


def test_two_cards_are_refused() -> None:
    pair = Reference(centre_mm=(10.0, -40.0)), Reference(centre_mm=(240.0, 60.0), turn_deg=-20.0)
    assert refusal_of(render(bare(*pair))) == "reference-several"


def test_a_tiny_card_is_refused_with_its_size() -> None:
    picture = cv2.resize(render(bare(Reference())), None, fx=0.085, fy=0.085, interpolation=3)
    canvas = np.full((400, 500, 3), 120, np.uint8)
    canvas[100 : 100 + picture.shape[0], 150 : 150 + picture.shape[1]] = picture
    assert refusal_of(canvas) == "reference-too-small"


def test_a_small_card_is_mentioned() -> None:
    picture = cv2.resize(render(bare(Reference())), None, fx=0.25, fy=0.25, interpolation=3)
    found = find_reference(photo_of(np.asarray(picture, np.uint8)), USUAL)
    assert [message.code for message in found.messages] == ["reference-small"]


@pytest.mark.parametrize("share", [0.15, 0.35, 0.55])
@pytest.mark.parametrize("edge", ["left", "top"])
def test_a_card_cut_by_the_edge_is_recognised(share: float, edge: str) -> None:
    scene = bare(Reference(turn_deg=3.0))
    corners = truth_of(scene).reference_px[0]
    low, high = corners.min(axis=0), corners.max(axis=0)
    x, y = (low + share * (high - low)).astype(int)
    picture = render(scene)
    cut = picture[:, x:] if edge == "left" else picture[y:]
    assert refusal_of(np.ascontiguousarray(cut)) == "reference-cut"


def test_a_card_at_the_very_edge_is_cut_off() -> None:
    scene = bare(Reference(turn_deg=0.0))
    left = int(truth_of(scene).reference_px[0][:, 0].min()) - 1
    assert refusal_of(np.ascontiguousarray(render(scene)[:, left:])) == "reference-cut"


def test_glare_over_part_of_an_edge_is_mentioned() -> None:
    scene = bare(Reference(turn_deg=0.0))
    picture = render(scene).copy()
    a, b = truth_of(scene).reference_px[0][:2]
    spot = (a + 0.35 * (b - a)).round().astype(int)
    cv2.circle(picture, spot.tolist(), int(0.11 * np.linalg.norm(b - a)), (250, 250, 250), -1)
    found = find_reference(photo_of(picture), USUAL)
    assert [message.code for message in found.messages] == ["reference-glare"]
    errors = corner_errors(found.corners_px, truth_of(scene).reference_px[0])
    assert np.abs(errors).max() < 0.6  # what is left of the edge suffices


def test_a_shaken_photo_gives_no_false_edges() -> None:
    picture = cv2.GaussianBlur(render(bare(Reference())), (0, 0), 14)
    assert refusal_of(np.asarray(picture, np.uint8)) in ("reference-unclear", "reference-unread")


def paper(**changes: object) -> Reference:
    return Reference(kind="square", side_mm=76.2, **changes)  # type: ignore[arg-type]


@pytest.mark.parametrize("colour", [(243, 242, 238), (246, 226, 92), (238, 150, 190)])
@pytest.mark.parametrize("table", [(128, 104, 82), (60, 62, 70), (186, 178, 170)])
def test_plain_squares_are_found(colour: tuple[int, int, int], table: tuple[int, int, int]) -> None:
    scene = replace(bare(paper(paper=colour)), light=Light(table=table, texture=0.12))
    found = found_in(scene, Settings(side_mm=76.2))
    assert found.kind == "square"
    errors = corner_errors(found.corners_px, truth_of(scene).reference_px[0])
    assert np.abs(errors).max() < 0.6


def test_a_plain_square_half_on_the_garment_is_found() -> None:
    scene = replace(
        bare(paper(centre_mm=(60.0, 0.0))),
        garment=Garment(outline=shirt(240, 300), centre_mm=(180.0, 0.0), cloth=(70, 110, 160)),
    )
    found = found_in(scene, Settings(side_mm=76.2))
    errors = corner_errors(found.corners_px, truth_of(scene).reference_px[0])
    assert np.abs(errors).max() < 1.0


def test_plain_squares_need_a_side() -> None:
    assert refusal_of(render(bare(paper()))) == "no-reference"


def test_two_plain_squares_are_refused() -> None:
    pair = paper(), paper(centre_mm=(220.0, 40.0), turn_deg=25.0)
    assert refusal_of(render(bare(*pair)), Settings(side_mm=76.2)) == "reference-several"


def test_a_card_wins_over_plain_squares() -> None:
    scene = bare(Reference(), paper(centre_mm=(230.0, 40.0)))
    found = found_in(scene, Settings(side_mm=101.6))
    assert found.kind == "card"
    errors = corner_errors(found.corners_px, truth_of(scene).reference_px[0])
    assert np.abs(errors).max() < 0.6


def littered(scene: Scene) -> NDArray[np.uint8]:
    """The scene with a spool of thread on its card."""
    picture = render(scene).copy()
    (middle, toward) = scene.references[0].place(scene.camera, np.array([[15.0, 10.0], [30, 10]]))
    radius = round(float(np.linalg.norm(toward - middle)))
    cv2.circle(picture, middle.round().astype(int).tolist(), radius, (60, 110, 190), -1)
    return picture


def test_a_plain_square_does_not_pass_for_a_card_that_cannot_be_read() -> None:
    scene = bare(Reference(), paper(centre_mm=(230.0, 40.0)))
    assert find_cards(np.asarray(cv2.cvtColor(littered(scene), cv2.COLOR_RGB2GRAY))) == []
    assert refusal_of(littered(scene), Settings(side_mm=101.6)) == "reference-unread"
    assert refusal_of(littered(scene)) == "reference-unread"


@pytest.mark.parametrize("covered", ["corner", "side", "strap"])
def test_nor_for_one_of_which_a_corner_a_side_or_a_strap_is_covered(covered: str) -> None:
    scene = bare(Reference(), paper(centre_mm=(230.0, 40.0)))
    over = {
        "corner": [(20, 20), (90, 20), (90, 90), (20, 90)],
        "side": [(-90, 32), (90, 32), (90, 90), (-90, 90)],
        "strap": [(-8, -90), (8, -90), (8, 90), (-8, 90)],
    }[covered]
    picture = render(scene).copy()
    places = scene.references[0].place(scene.camera, np.array(over, dtype=float))
    cv2.fillConvexPoly(picture, places.round().astype(np.int32), (120, 150, 140))
    assert refusal_of(picture, Settings(side_mm=101.6)) in ("reference-unread", "reference-glare")


def test_an_oblong_is_no_square() -> None:
    scene = bare()
    picture = render(scene).copy()
    corners = scene.camera.project(np.array([[0, 0], [105, 0], [105, 74], [0, 74]], float) - 30)
    cv2.fillPoly(picture, [corners.round().astype(np.int32)], (244, 243, 240))
    assert refusal_of(picture, Settings(side_mm=76.2)) == "no-reference"


def checked(cell: int) -> NDArray[np.uint8]:
    """Gingham: checks of three tones, every one of them a square."""
    y, x = np.mgrid[:900, :1200] // cell
    tones = np.array([[245, 240, 238], [190, 120, 120], [140, 30, 40]], np.uint8)
    return np.ascontiguousarray(tones[(x % 2) + (y % 2)])


@pytest.mark.parametrize("cell", [24, 60, 110])
def test_checked_cloth_is_no_reference(cell: int) -> None:
    code = refusal_of(checked(cell), Settings(side_mm=76.2))
    assert code in ("no-reference", "reference-several")


@pytest.mark.parametrize("kind", ["plain", "striped", "allover"])
@pytest.mark.parametrize("seed", range(3))
def test_patterned_garments_are_no_reference(kind: str, seed: int) -> None:
    scene = replace(make_scene(seed, kind=kind), references=())  # type: ignore[arg-type]
    assert refusal_of(render(scene), Settings(side_mm=76.2)) == "no-reference"


@pytest.mark.parametrize("name", ["brick", "grass", "gravel", "camera", "page", "text", "coffee"])
def test_pictures_without_a_square_are_no_reference(name: str) -> None:
    picture = getattr(data, name)()  # shipped inside scikit-image
    picture = picture if picture.ndim == 3 else np.repeat(picture[..., None], 3, axis=2)
    picture = cv2.resize(picture, None, fx=2.3, fy=2.3, interpolation=cv2.INTER_CUBIC)
    assert refusal_of(np.asarray(picture, np.uint8), Settings(side_mm=76.2)) == "no-reference"


def card_near_a_corner(corners: NDArray[np.float64], ground: int) -> NDArray[np.uint8]:
    """A coded card, its white margin one module wide, on a table of one grey."""
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    face = np.full((400, 400), 200, np.uint8)
    cells = cv2.aruco.generateImageMarker(family, 348, 320)
    face[40:-40, 40:-40] = np.where(np.asarray(cells) > 127, 200, 25)
    marker = np.array([[39.5, 39.5], [359.5, 39.5], [359.5, 359.5], [39.5, 359.5]], np.float32)
    place = cv2.getPerspectiveTransform(marker, corners.astype(np.float32))
    drawn = cv2.warpPerspective(face, place, (1200, 1600), borderValue=(float(ground),))
    return np.asarray(cv2.GaussianBlur(drawn, (0, 0), 0.8), np.uint8)


@pytest.mark.parametrize("seed", range(8))
def test_a_card_on_a_dark_table_near_the_edge_is_found(seed: int) -> None:
    # the detector as it comes overlooks one in four of these: the card's rim and its marker's
    # are then taken for one outline
    rng = np.random.default_rng(seed)
    usual = np.array([[82.6, 39.8], [277.2, 74.9], [251.7, 279.6], [61.8, 245.6]])
    corners = usual + rng.normal(0, 6, (4, 2))
    (card,) = find_cards(card_near_a_corner(corners, ground=int(rng.integers(40, 120))))
    assert card.marker_id == 348
    assert np.abs(corner_errors(card.corners, corners)).max() < 3


@pytest.mark.parametrize("seed", range(4))
def test_a_second_card_is_not_overlooked(seed: int) -> None:
    rng = np.random.default_rng(seed)
    usual = np.array([[82.6, 39.8], [277.2, 74.9], [251.7, 279.6], [61.8, 245.6]])
    corners = usual + rng.normal(0, 6, (4, 2))
    picture = card_near_a_corner(corners, ground=int(rng.integers(40, 120)))
    # this one is plain to see, so the quickest search is not without an answer
    other = card_near_a_corner(square(230.0) + np.array([880.0, 1240.0]), ground=235)
    picture[1000:, 600:] = other[1000:, 600:]
    assert len(find_cards(picture)) == 2
    assert refusal_of(np.repeat(picture[..., None], 3, axis=2)) == "reference-several"


def test_noise_holds_no_marker() -> None:
    rng = np.random.default_rng(8)
    for scale in (1, 4, 12):
        small = rng.integers(0, 2, (900 // scale, 1200 // scale)).astype(np.uint8) * 200
        grey = cv2.resize(small, (1200, 900), interpolation=cv2.INTER_NEAREST)
        assert find_cards(np.asarray(grey, np.uint8)) == []


def test_samples_agree_with_their_truth() -> None:
    rows = json.loads((SAMPLES / "truth.json").read_text())
    rows = [row for row in rows if row["reference_px"]]
    errors = []
    for row in rows:
        found = find_reference(read_photo(SAMPLES / row["image"]), Settings(side_mm=row["side_mm"]))
        assert found.kind == row["reference"]
        errors.append(np.abs(corner_errors(found.corners_px, np.array(row["reference_px"]))).max())
    assert np.median(errors) < 0.15
    assert np.max(errors) < 1.5  # a card in glare, a sticky note
    assert len(errors) >= 8

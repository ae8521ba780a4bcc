"""A side that can hardly be true is doubted, never mended."""

from dataclasses import replace
from pathlib import Path

import pytest
from records import make_sizing
from scenes import make_scene, render, save_photo

from motiffit.marker import side_mm_of
from motiffit.measure.plausible import doubt_code, doubt_extent
from motiffit.messages import MESSAGES
from motiffit.record import Message
from motiffit.settings import Settings
from motiffit.sizing import size_photo

USUAL = Settings()


def codes(messages: tuple[Message, ...]) -> list[str]:
    return [message.code for message in messages]


# ids that `motiffit card` prints without wishes, and those of round wishes
@pytest.mark.parametrize("marker_id", [364, 100, 348, 80, 125, 316, 372])
def test_cards_as_they_are_printed_are_believed(marker_id: int) -> None:
    side = side_mm_of(marker_id)
    assert side is not None
    assert doubt_code(float(side), USUAL) == ()


# markers of other makers: ids of the renders in the workshop's bench among them (162, 196, 387)
@pytest.mark.parametrize("marker_id", [10, 17, 23, 37, 162, 196, 299, 301, 387, 405, 586])
def test_a_marker_of_another_kind_is_doubted(marker_id: int) -> None:
    side = side_mm_of(marker_id)
    assert side is not None
    (message,) = doubt_code(float(side), USUAL)
    assert (message.code, message.severity) == ("reference-unusual", "warning")
    assert message.text.endswith("Measure the black square and give it with --side.")


def test_the_side_is_told_in_the_units_of_the_code() -> None:
    assert "is 37 mm," in doubt_code(37.0, USUAL)[0].text
    assert "is 6 9/16 in," in doubt_code(166.6875, Settings(units="cm"))[0].text


@pytest.mark.parametrize(
    ("length_mm", "is_whole", "how"),
    [
        # newborn: neck to hip 8 in; chest 14 in round, 7 in wide as it lies (clothingforbaby.com)
        (203.0, True, None),
        (178.0, True, None),
        # a dress of size 12, 39 in from shoulder to hem (pinkprincess.com)
        (990.0, True, None),
        # a bodysuit of 16 in beside a 4 in card that was taken for one of 17 mm, and of 299 mm
        (406.0 * 17 / 101.6, True, "small"),
        (406.0 * 299 / 101.6, True, "large"),
        # what the photo does not show may make it larger, never smaller
        (100.0, False, None),
        (1200.0, False, "large"),
    ],
)
def test_a_garment_that_no_child_wears_is_doubted(
    length_mm: float, is_whole: bool, how: str | None
) -> None:
    reference = make_sizing().reference
    assert reference is not None
    found = doubt_extent(reference, length_mm, USUAL, is_whole=is_whole)
    assert codes(found) == ([] if how is None else ["reference-doubtful"])
    assert all(f"hardly ever so {how}" in message.text for message in found)


def test_a_square_of_a_wrong_unit_is_named() -> None:
    reference = make_sizing().reference
    assert reference is not None
    note = replace(reference, kind="square", side_mm=8.0)
    (message,) = doubt_extent(note, 20.0, Settings(side_mm=8.0), is_whole=True)
    assert message.text.startswith("With a square of 8 mm the garment would be 1 in long or wide")
    assert MESSAGES[message.code].severity == "warning"


def test_a_foreign_marker_beside_a_garment_is_never_sized(tmp_path: Path) -> None:
    # a card of 4 in whose marker carries the code of 37 mm: a shirt of some 30 cm seems to have 11
    scene = make_scene(11, tilt_deg=9.0)
    foreign = replace(scene.references[0], marker_id=37)
    path = tmp_path / "shirt.jpg"
    picture = render(replace(scene, references=(foreign,)))
    save_photo(picture, path, focal_35mm=scene.camera.focal_35mm)
    sizing = size_photo(path)
    assert sizing.outcome == "check"
    assert {"reference-unusual", "reference-doubtful"} <= set(codes(sizing.messages))
    said = size_photo(path, Settings(side_mm=101.6))
    assert said.outcome == "sized"
    assert codes(said.messages) == []

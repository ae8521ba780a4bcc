"""Text for a person: what it says, and that it never promises more than was measured."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from records import Case, make_refused, make_sizing

from motiffit.messages import MESSAGES
from motiffit.record import Sides
from motiffit.settings import Settings
from motiffit.show.table import CAUTIONS, brief_text, headline, how_text, sizing_text, summary_text
from motiffit.show.words import (
    format_down,
    format_up,
    middle_words,
    percent_words,
    wrap_words,
)
from motiffit.units import parse_length

CM = Settings(units="cm", sizes_mm=(75.0, 100.0, 125.0), seam_allowance_mm=7.5, clearance_mm=3.0)
TOO_LARGE = Case(motifs_mm=((200.0, -180.0, 260.0, 180.0),))
ALL = [
    Case(),
    Case(codes=("motif-doubtful", "focal-unknown")),
    Case(motifs_mm=()),
    Case(settings=CM),
    TOO_LARGE,
    Case(motifs_mm=((110.0, -180.0, 70.0, 60.0),)),
]


def words_of(text):
    """Undo the wrapping."""
    return " ".join(text.split())


def test_finished_and_cut_size_come_first():
    # cut = finished + 1/2 in: quiltingboard.com, "How to make T-shirt quilts", article 31
    text = sizing_text(make_sizing())
    assert text.splitlines()[0] == "Finished 4 in, cut 4 1/2 in"


def test_ruler_is_taped_at_the_cut_size_and_its_half():
    # issue 2: the middle of a 4 1/2 in cut lies at 2 1/4 in (common practice, no source)
    words = words_of(sizing_text(make_sizing()))
    assert (
        "Tape off a 4 1/2 in square. Its middle lies 2 1/4 in from each side: lay that point on "
        "the motif's middle, sides straight with the garment's grain." in words
    )


def test_half_of_a_metric_cut_is_not_rounded():
    words = words_of(sizing_text(make_sizing(Case(settings=CM))))
    # 10 cm + 2 x 0.75 cm = 11.5 cm, its half 5.75 cm
    assert "Tape off an 11.5 cm square. Its middle lies 5.75 cm from each side" in words


def test_clearances_motif_and_certainty_are_told():
    words = words_of(sizing_text(make_sizing()))
    # 78 x 72 mm in a 101.6 mm square: 11.8 mm = 7/16 in and 14.8 mm = 9/16 in, rounded down
    assert "top 9/16 in, right 7/16 in, bottom 9/16 in, left 7/16 in" in words
    assert "Motif 3 1/16 in wide, 2 13/16 in high To the seam" in words
    assert "over 99 % that 1/8 in or more stays clear on every side" in words


def test_sizes_around_the_proposed_are_told_with_the_rest_in_a_line():
    text = sizing_text(make_sizing())
    assert "     3 in  would cut 1/16 in off the motif\n" in text
    assert "  -> 4 in  clears the motif by 7/16 in\n" in text
    assert "     5 in  clears the motif by 15/16 in\n" in text
    assert "     6, 7, 8, 9 in: larger still\n" in text


def test_a_square_off_the_middle_is_told_as_it_lies():
    # the garment ends 50 mm right of the motif's middle: the cut square of 114.3 mm moves by
    # 57.15 - 50 mm, which leaves (101.6 - 75) / 2 - 7.15 = 6.15 mm, rounded down 3/16 in
    garment = ((100.0, -280.0), (250.0, -280.0), (250.0, 0.0), (100.0, 0.0))
    sizing = make_sizing(Case(motifs_mm=((200.0, -180.0, 75.0, 75.0),), garment_mm=garment))
    assert sizing.window.clearance_mm.right == pytest.approx(6.15)
    text = sizing_text(sizing)
    assert "right 3/16 in" in text
    assert "  -> 4 in  clears the motif by 3/16 in\n" in text


def test_what_it_was_measured_by_is_told():
    sizing = make_sizing()
    assert "Card 4 in, read from its code" in words_of(sizing_text(sizing))
    said = replace(sizing, settings=Settings(side_mm=98.425))
    said = replace(said, reference=replace(sizing.reference, side_mm=98.425))
    assert "Card 3 7/8 in, as you said" in words_of(sizing_text(said))
    note = replace(said, reference=replace(sizing.reference, kind="square", side_mm=76.2))
    assert "Square 3 in, as you said" in words_of(sizing_text(note))
    metric = replace(sizing, reference=replace(sizing.reference, side_mm=100.0))
    assert "Card 100 mm, read from its code" in words_of(sizing_text(metric))
    assert "Card" not in sizing_text(make_refused())


def test_a_box_that_is_not_sure_is_not_called_too_tight():
    # 40 mm in 101.6 mm leaves 30 mm a side, yet with an sd of 14 mm it may well be lost
    sizing = make_sizing(Case(motifs_mm=((200.0, -180.0, 40.0, 40.0),), sd_mm=14.0))
    text = words_of(sizing_text(sizing))
    assert "4 in would clear the box by 1 3/16 in, but the box is not sure enough (" in text
    assert "too tight" not in text


BARELY = Case(motifs_mm=((200.0, -180.0, 226.0, 180.0),))
"""226 mm in 9 in (228.6 mm) leaves 1.3 mm a side: not cut, but less than the 3.2 mm asked for."""


def test_a_motif_slightly_too_large_is_not_to_be_cut():
    sizing = make_sizing(BARELY)
    assert sizing.window.clearance_mm.least() > 0
    assert sizing.is_too_small
    text = words_of(sizing_text(sizing))
    assert text.startswith(
        "Do not cut: even the largest size, finished 9 in, cut 9 1/2 in, keeps clear of "
        "the motif with a chance of under 1 %"
    )
    assert "Tape off" not in text
    assert summary_text([sizing, sizing]).splitlines()[1].startswith("Measured by: ")


def test_a_persons_place_close_to_the_motif_may_be_cut():
    sizing = make_sizing(BARELY)
    placed = replace(sizing, settings=replace(sizing.settings, place=(500.0, 400.0, 0.0)))
    assert not placed.is_too_small


def test_size_too_tight_is_not_called_clear():
    # 95 mm in 101.6 mm leaves 3.3 mm, more than the 3.2 mm asked for, yet with an sd of 1.5 mm
    text = sizing_text(make_sizing(Case(motifs_mm=((200.0, -180.0, 95.0, 60.0),), sd_mm=1.5)))
    assert text.startswith("Finished 5 in")
    assert "4 in  too tight to be sure" in text


def test_what_needs_an_eye_stands_before_the_ruler():
    text = sizing_text(make_sizing(Case(codes=("motif-doubtful", "focal-unknown"))))
    assert text.startswith("Check before you cut: finished 4 in")
    check, ruler, note = (text.index(part) for part in ("Check: It", "On the ruler", "Note: The"))
    assert check < ruler < note
    assert "if the box is the motif and holds all of it" in words_of(text)


def test_of_a_motif_cut_by_the_photo_no_clearance_is_told():
    text = sizing_text(make_sizing(Case(codes=("motif-cut",))))
    assert text.startswith("Check before you cut: finished 4 in")
    assert "The motif reaches the edge of the photo" in words_of(text)
    assert "To the seam" not in text
    assert "How sure" not in text
    assert "Tape off" not in text


def test_size_that_cuts_into_the_motif_gets_no_instructions_to_cut():
    text = sizing_text(make_sizing(TOO_LARGE))
    assert text.startswith("Do not cut: even the largest size, finished 9 in")
    assert "Tape off" not in text
    assert "How sure" not in text
    assert "right cuts off 5/8 in" in words_of(text)


def test_cloth_without_motif_is_cut_where_it_is_best():
    text = words_of(sizing_text(make_sizing(Case(motifs_mm=()))))
    assert text.startswith("No motif; the largest square that the cloth holds: finished 8 in")
    assert "Tape off an 8 1/2 in square. Lay it where the cloth is best" in text
    assert "Sizes of the set" not in text


@pytest.mark.parametrize("code", ["no-reference", "photo-missing", "photo-empty"])
def test_refused_photo_gives_reason_and_cure_and_nothing_to_cut(code):
    text = words_of(sizing_text(make_refused(code)))
    assert text.startswith("Not measured Reason: ")
    assert MESSAGES[code].text in text
    assert MESSAGES[code].cure in text
    assert all(caution not in text for caution in CAUTIONS)


@pytest.mark.parametrize("case", ALL)
@pytest.mark.parametrize("width", [60, 80, 100])
def test_text_fits_the_screen_and_breaks_no_length(case, width):
    text = sizing_text(make_sizing(case), width=width)
    lines = text.splitlines()
    assert max(map(len, lines)) <= width
    assert len(lines) <= 40
    assert not any(line.rstrip().endswith(tuple("0123456789")) for line in lines)


def test_cautions_are_told_with_every_square_to_cut():
    words = words_of(sizing_text(make_sizing()))
    assert all(caution in words for caution in CAUTIONS)


def test_moved_square_is_placed_from_the_motif():
    sizing = make_sizing()
    (motif,) = sizing.motifs
    # upright turned by 90 degrees: the garment's right is the photo's down
    window = replace(
        sizing.window,
        angle_deg=90.0,
        centre_mm=(motif.centre_mm[0] - 25.4, motif.centre_mm[1] + 12.7),
    )
    assert middle_words(window, motif, "in") == "1/2 in right of and 1 in below the motif's middle"
    assert "lay that point 1/2 in right of and 1 in below the motif's middle" in words_of(
        sizing_text(replace(sizing, window=window))
    )


def test_each_of_many_photos_takes_a_few_lines():
    text = brief_text(make_sizing(), name="a.jpg")
    assert text == "a.jpg: Finished 4 in, cut 4 1/2 in (motif 3 1/16 x 2 13/16 in)"
    doubtful = brief_text(make_sizing(ALL[1]), name="b.jpg")
    assert "Check: It is not certain" in doubtful
    assert "which lens" not in doubtful  # a note
    assert brief_text(make_refused(), name="c.jpg").startswith(
        "c.jpg: Not measured\n    Reason: No"
    )


def test_summary_counts_outcomes_and_sizes_that_can_be_cut():
    sizings = [make_sizing(case) for case in ALL if case.settings.units == "in"]
    assert summary_text([*sizings, make_refused()]).splitlines() == [
        "6 photos: 1 sized, 2 to check, 1 not to be cut, 1 without a motif, 1 not measured",
        "Finished sizes: 4 in: 3",
        "Not among these: 1 not to be cut, 1 without a motif, 1 not measured",
        "Measured by: card of 4 in, read from its code (5)",
    ]


def test_verbose_text_says_how_it_was_measured():
    words = words_of(how_text(make_sizing()))
    assert "tilted by 4.2 degrees" in words
    # 1.96 sd of 0.4 mm is 0.78 mm, rounded up to a sixteenth
    assert "each edge within 1/16 in, 95 times in 100; 95 % sure that it is the motif" in words
    assert how_text(make_refused()) == ""


@given(st.floats(-400, 400))
def test_rounding_never_promises_more_than_there_is(length_mm):
    slack_mm = 0.02 * 25.4 / 16 + 1e-6
    assert _read(format_down(length_mm, "in"), "in") <= length_mm + slack_mm
    assert _read(format_up(length_mm, "in"), "in") >= length_mm - slack_mm
    assert _read(format_down(length_mm, "cm"), "cm") <= length_mm + slack_mm
    assert _read(format_up(length_mm, "cm"), "cm") >= length_mm - slack_mm


def _read(text, units):
    sign = -1 if text.startswith("-") else 1
    return sign * float(parse_length(text.removeprefix("-"), units))


@given(st.floats(0, 1))
def test_certainty_is_never_rounded_up(probability):
    words = percent_words(probability)
    if words == "over 99 %":
        assert probability >= 0.99
    elif words == "under 1 %":
        assert probability < 0.01
    else:
        percent = float(words.removesuffix(" %"))
        assert percent <= 100 * probability
        # the design's limit for a size: the words never leave open on which side of it they are
        assert (percent >= 97.5) == (probability >= 0.975)


def test_lengths_are_kept_whole_when_wrapped():
    words = "top 1 1/2 in, right 12 cm, bottom 97 % and 3 mm"
    for width in range(10, 40):
        lines = wrap_words(words, width)
        assert " ".join(lines) == words
        assert all(
            length in lines_joined(lines) for length in ("1 1/2 in", "12 cm", "97 %", "3 mm")
        )


def lines_joined(lines):
    return "\n".join(lines)


def test_headline_of_no_window_is_the_outcome():
    assert headline(make_refused()) == "Not measured"
    plain = make_sizing(Case(motifs_mm=(), garment_mm=((0, 0), (30, 0), (30, 30), (0, 30))))
    assert plain.window is None
    assert headline(plain) == "No motif"
    assert "On the ruler" not in sizing_text(plain)


def test_square_put_by_hand_is_described_as_it_lies():
    sizing = make_sizing(Case(settings=Settings(place=(500.0, 400.0, 12.0))))
    assert "turned as in the picture" in words_of(sizing_text(sizing))
    cut = replace(sizing.window, clearance_mm=Sides(top=5.0, right=-0.2, bottom=5.0, left=5.0))
    text = sizing_text(replace(sizing, window=cut))
    assert text.startswith("Do not cut: finished 4 in, cut 4 1/2 in, would cut into the motif")
    assert "right cuts off 1/16 in" in words_of(text)

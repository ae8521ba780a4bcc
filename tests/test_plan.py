"""The plan: from records to one document in which every number agrees with every other."""

import json
from collections import Counter
from dataclasses import replace
from fractions import Fraction as F
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plans import MIXED, make_record, make_records
from records import make_refused

from motiffit.errors import UsageError
from motiffit.quilt import Fabric, GarmentNote, Plan, PlanOptions, default_options, make_plan
from motiffit.quilt.backing import plan_backing
from motiffit.quilt.cautions import CAUTIONS, list_cautions
from motiffit.quilt.fabrics import assign_fabrics
from motiffit.quilt.lengths import format_cut
from motiffit.quilt.notices import list_notices
from motiffit.quilt.plan import PLAN_SCHEMA
from motiffit.record import Sides, make_message
from motiffit.units import MM_PER_INCH

INCH = MM_PER_INCH


def codes(plan: Plan) -> set[str]:
    """Codes of a plan's messages."""
    return {message.code for message in plan.messages}


# --- one quilt, worked out by hand ---------------------------------------------------------------


def test_a_small_quilt_worked_out_by_hand() -> None:
    # two 3 in centres, two 5 in centres, block 7, strips 1 in: 4 and 2 half rounds
    options = replace(
        PlanOptions(),
        block_mm=7 * INCH,
        strips_mm=(INCH,),
        scheme="one",
        shrinkage=F(0),
        straightening_mm=F(0),
    )
    plan = make_plan(make_records([3, 3, 5, 5]), options)
    assert [(kind.block.half_rounds, kind.count) for kind in plan.kinds] == [(4, 2), (2, 2)]
    assert (plan.grid.rows, plan.grid.columns, plan.grid.width_mm) == (2, 2, 14 * INCH)
    strips = plan.fabrics[0]
    # cut lengths of a 3 in centre: 3 1/2, 4 1/2, 4 1/2, 5 1/2, 5 1/2, 6 1/2, 6 1/2, 7 1/2, and of
    # a 5 in centre: 5 1/2, 6 1/2, 6 1/2, 7 1/2
    assert dict(strips.groups[0].pieces) == {
        F(7, 2) * INCH: 2,
        F(9, 2) * INCH: 4,
        F(11, 2) * INCH: 6,
        F(13, 2) * INCH: 8,
        F(15, 2) * INCH: 4,
    }
    # 140 in of pieces on 40 in strips: four at the least
    assert (strips.groups[0].strips, strips.groups[0].is_proven) == (4, True)
    assert strips.purchase.words == "1/4 yd (9 in)"
    # binding: 56 in round, 16 in more, 40 in strips that lose 2 1/2 in to the join
    assert (plan.layers.binding.run_mm, plan.layers.binding.strips) == (72 * INCH, 2)
    # backing 22 in square in one piece; interfacing two 5 in and two 7 in squares on 20 in
    assert (plan.layers.backing.panels, plan.layers.backing.length_mm) == (1, 22 * INCH)
    assert plan.layers.batting.package == "crib"
    assert plan.interfacing is not None
    assert plan.interfacing.nesting.length_mm == 12 * INCH
    assert codes(plan) == set()


# --- everything agrees ---------------------------------------------------------------------------

plans = st.builds(
    dict,
    sizes=st.lists(st.integers(3, 9), min_size=1, max_size=9),
    scheme=st.sampled_from(("one", "halves", "rounds", "sides")),
    turning=st.sampled_from(("same", "furrows", "barn", "pinwheel")),
    sash_mm=st.sampled_from((F(0), 2 * INCH)),
    has_outer_sash=st.booleans(),
    borders_mm=st.sampled_from(((), (3 * INCH,), (INCH, 4 * INCH))),
    has_corner_squares=st.booleans(),
    columns=st.sampled_from((None, 2, 3)),
    seam_take_up_mm=st.sampled_from((F(0), INCH / 32)),
)


@settings(max_examples=25)
@given(plans)
def test_the_cutting_list_holds_the_strips_of_every_block(wish: dict[str, object]) -> None:
    records = make_records(wish.pop("sizes"))  # type: ignore[arg-type]
    plan = make_plan(records, PlanOptions(**wish))  # type: ignore[arg-type]
    needed: Counter[tuple[str, F, F]] = Counter()
    for cell in plan.layout.cells:
        block = plan.block_at(cell)
        if block is None:
            needed["plain blocks", plan.cut_block_mm, plan.cut_block_mm] += 1
            continue
        assert block.cut_width_mm == plan.cut_block_mm
        cloths = assign_fabrics(block, plan.options.scheme, plan.options.fabrics_in_use)
        for strip, cloth in zip(block.strips, cloths, strict=True):
            needed[cloth.name, strip.cut_width_mm, strip.cut_length_mm] += 1
    listed: Counter[tuple[str, F, F]] = Counter()
    for need in plan.fabrics:
        if need.fabric.name not in ("sashing", "border", "binding"):
            for group in need.groups:
                for length, count in group.pieces:
                    listed[need.fabric.name, group.width_mm, length] += count
    assert listed == needed


@settings(max_examples=25)
@given(plans, st.sampled_from(("log-cabin", "courthouse")))
def test_blocks_sewn_as_listed_take_the_strips_of_the_cutting_list(
    wish: dict[str, object], construction: str
) -> None:
    sizes = [size - 1 + size % 2 for size in wish.pop("sizes")]  # type: ignore[attr-defined]
    options = PlanOptions(construction=construction, block_mm=9 * INCH, **wish)  # type: ignore[arg-type]
    plan = make_plan(make_records(sizes), options)
    sewn: Counter[tuple[str, F, F]] = Counter()
    for kind in plan.kinds:
        for strip, cloth in zip(kind.block.strips, kind.fabrics, strict=True):
            sewn[cloth.name, strip.cut_width_mm, strip.cut_length_mm] += kind.count
    cut: Counter[tuple[str, F, F]] = Counter()
    for need in plan.fabrics:
        for group in need.groups:
            if group.uses == ("strips",):
                for length, count in group.pieces:
                    cut[need.fabric.name, group.width_mm, length] += count
    assert sewn == cut


@settings(max_examples=25)
@given(plans)
def test_the_top_is_its_blocks_sashes_and_borders(wish: dict[str, object]) -> None:
    records = make_records(wish.pop("sizes"))  # type: ignore[arg-type]
    plan = make_plan(records, PlanOptions(**wish))  # type: ignore[arg-type]
    # area by pieces: what shows of each piece is its cut size less the two allowances
    shown = len(plan.layout.cells) * plan.block_mm**2
    for need in plan.fabrics:
        if need.fabric.name in ("sashing", "border"):
            for group in need.groups:
                for length, count in group.pieces:
                    shown += count * (group.width_mm - INCH / 2) * (length - INCH / 2)
    assert shown == plan.grid.width_mm * plan.grid.height_mm


def test_the_same_records_give_the_same_plan() -> None:
    assert make_plan(MIXED, PlanOptions()) == make_plan(MIXED, PlanOptions())


def test_seven_centres_in_a_nine_inch_block_use_one_inch_strips() -> None:
    plan = make_plan(MIXED, PlanOptions())
    assert (plan.block_mm, plan.strips_mm) == (9 * INCH, (INCH,))
    assert [kind.block.half_rounds for kind in plan.kinds] == [6, 5, 4, 3, 2, 1, 0]


def test_metric_plan() -> None:
    records = [make_record(f"{n}.jpg", size / 25.4) for n, size in enumerate((75, 100, 150, 225))]
    metric = [
        replace(record, settings=replace(record.settings, units="cm", sizes_mm=(75.0, 225.0)))
        for record in records
    ]
    plan = make_plan(metric, default_options("cm"))
    assert (plan.block_mm, plan.strips_mm) == (225, (25,))
    assert plan.fabrics[0].purchase.words.endswith(" m")


# --- what is told --------------------------------------------------------------------------------


def test_photos_without_a_square_are_named() -> None:
    records = [*MIXED, make_refused(photo="blurred.jpg")]
    plan = make_plan(records, PlanOptions(), notes={"garment 0.jpg": GarmentNote(keep=False)})
    assert [left.photo for left in plan.left_out] == ["garment 0.jpg", "blurred.jpg"]
    assert "No reference square" in plan.left_out[1].reason
    assert "plan-left-out" in codes(plan)


def test_a_square_that_cuts_the_motif_gives_no_block_unless_accepted() -> None:
    cutting = make_record("big.jpg", 9)
    assert cutting.window is not None
    crossed = replace(cutting.window, clearance_mm=Sides(top=-2.0, right=1.0, bottom=1.0, left=1.0))
    records = [*MIXED, replace(cutting, window=crossed, outcome="check")]
    plan = make_plan(records, PlanOptions())
    assert "big.jpg" in [left.photo for left in plan.left_out]
    # another photo would not help: the motif is as large on each
    assert "plan-left-out" not in codes(plan)
    (message,) = [message for message in plan.messages if message.code == "plan-too-small"]
    assert message.text.endswith("(1): big.jpg. Size the pile with a larger size as well, or "
                                 "frame a part of the motif.")  # fmt: skip
    accepted = {"big.jpg": GarmentNote(is_accepted=True)}
    plan = make_plan(records, PlanOptions(), notes=accepted)
    assert plan.left_out == ()
    assert "plan-check" not in codes(plan)


def test_a_square_that_all_too_likely_is_too_small_gives_no_block_unless_accepted() -> None:
    barely = make_record("big.jpg", 9, outcome="check")
    assert barely.window is not None
    # 16 % sure, as a newcomer's garment was that stood in her plan
    barely = replace(barely, window=replace(barely.window, p_clear=0.168))
    (left,) = make_plan([*MIXED, barely], PlanOptions()).left_out
    assert (left.photo, left.reason[:15]) == ("big.jpg", "Only 16 % sure ")
    accepted = {"big.jpg": GarmentNote(is_accepted=True)}
    assert make_plan([*MIXED, barely], PlanOptions(), notes=accepted).left_out == ()
    placed = replace(barely, settings=replace(barely.settings, place=(1.0, 2.0, 0.0)))
    assert make_plan([*MIXED, placed], PlanOptions()).left_out == ()


def test_garments_without_a_motif_are_named() -> None:
    plain = make_record("plain.jpg", 6, outcome="no-motif")
    assert plain.window is not None
    plain = replace(plain, window=replace(plain.window, clearance_mm=None, p_clear=None))
    plan = make_plan([*MIXED, plain], PlanOptions())
    message = next(message for message in plan.messages if message.code == "plan-no-motif")
    assert "(1): plain." in message.text
    assert "--motifs-only" in message.text
    assert "--" not in message.page_text
    assert "plan-check" not in codes(plan)


def test_a_plain_garment_measured_by_a_doubtful_card_is_not_settled() -> None:
    plain = make_record(
        "plain.jpg", 6, outcome="no-motif",
        messages=(make_message("reference-unusual", side="37 mm"),),
    )  # fmt: skip
    assert "plan-check" in codes(make_plan([*MIXED, plain], PlanOptions()))


def test_blocks_without_strips_are_told_with_the_block_that_gives_some() -> None:
    plan = make_plan(MIXED, PlanOptions())
    message = next(message for message in plan.messages if message.code == "plan-no-strips")
    # centres of 3 to 9 in and strips of 1 in: a round round the largest makes 11 in
    assert message.text.startswith("Blocks without strips (1): their centres of 9 in")
    assert message.text.endswith("in a block of 11 in.")
    larger = make_plan(MIXED, replace(PlanOptions(), block_mm=11 * INCH))
    assert min(kind.block.half_rounds for kind in larger.kinds) == 2
    assert "plan-no-strips" not in codes(larger)


def test_notices_leave_out_garments_without_a_place() -> None:
    doubtful = [replace(record, outcome="check") for record in MIXED]
    plan = make_plan(doubtful, replace(PlanOptions(), rows=3, columns=3))
    assert len(plan.layout.spare) == 3
    message = next(message for message in plan.messages if message.code == "plan-check")
    assert message.text.startswith("Not settled yet (9)")


def test_doubtful_garments_are_named() -> None:
    plan = make_plan([replace(MIXED[0], outcome="check"), *MIXED[1:]], PlanOptions())
    message = next(message for message in plan.messages if message.code == "plan-check")
    assert (message.severity, "garment 0" in message.text) == ("warning", True)
    assert "Not settled yet (1): garment 0. The size of each" in message.text
    assert plan.messages[0] == message


def test_off_centre_blocks_are_told() -> None:
    message = next(
        message
        for message in make_plan(MIXED, PlanOptions()).messages
        if message.code == "plan-off-centre"
    )
    assert "4 in, 6 in, 8 in" in message.text
    narrow = replace(PlanOptions(), strips_mm=(INCH / 2,))
    assert "plan-off-centre" not in codes(make_plan(MIXED, narrow))


def test_half_rounds_of_two_widths_put_the_centre_off_the_middle() -> None:
    # 4 in with 1/2, 1, 1/2 and 1 in: two whole rounds, 1 in above and 2 in below
    records = make_records([4, 4])
    wish = replace(PlanOptions(), block_mm=7 * INCH, strips_mm=(INCH / 2, INCH))
    messages = {message.code: message.text for message in make_plan(records, wish).messages}
    assert "plan-off-centre" not in messages
    assert "4 in lie off the middle" in messages["plan-off-centre-widths"]
    # as its cure says: 1/2, 1/2, 1 and 1 in
    twice = replace(wish, strips_mm=(INCH / 2, INCH / 2, INCH, INCH))
    assert not {"plan-off-centre", "plan-off-centre-widths"} & codes(make_plan(records, twice))


def test_take_up_is_shown() -> None:
    plan = make_plan(MIXED, replace(PlanOptions(), seam_take_up_mm=INCH / 32))
    message = next(message for message in plan.messages if message.code == "plan-take-up")
    # six half rounds, a seam each
    assert "1/32 in wider" in message.text
    assert "3/16 in too small" in message.text


@pytest.mark.parametrize(
    ("quilt", "words"),
    [
        # with 4 in more on each side and two lengths of 40 in joined, 79 in: too little to split
        ((F(141, 2), F(90)), "a seam down its middle"),
        ((F(90), F(141, 2)), "a seam across its middle"),
    ],
)
def test_the_seam_of_the_back_is_told_as_it_runs(quilt: tuple[F, F], words: str) -> None:
    plan = make_plan(MIXED, PlanOptions())
    backing = plan_backing(
        (quilt[0] * INCH, quilt[1] * INCH),
        overage_mm=4 * INCH,
        cloth_width_mm=40 * INCH,
        join_mm=INCH / 2,
    )
    messages = list_notices(replace(plan, layers=replace(plan.layers, backing=backing)))
    assert words in next(item.text for item in messages if item.code == "plan-backing-seam")


@pytest.mark.parametrize(
    ("wish", "grid", "words"),
    [
        # 12 blocks of 9 in
        ({}, (10, 7), None),
        ({"rows": 5}, (5, 7), "a quilt of 63 in x 45 in; wished was one of 63 in x 87 in"),
        ({"columns": 7}, (10, 7), None),
        ({"rows": 5, "columns": 3}, (5, 3), "a quilt of 27 in x 45 in"),
    ],
)
def test_a_size_missed_by_the_rows_and_columns_asked_for_is_told(
    wish: dict[str, int], grid: tuple[int, int], words: str | None
) -> None:
    options = replace(PlanOptions(), wish_mm=(63 * INCH, 87 * INCH), **wish)  # type: ignore[arg-type]
    plan = make_plan(MIXED, options)
    assert (plan.grid.rows, plan.grid.columns) == grid
    told = [message.text for message in plan.messages if message.code == "plan-size-unmet"]
    assert [words in text for text in told] == ([] if words is None else [True])  # type: ignore[operator]


def test_missing_and_spare_garments_are_counted() -> None:
    plan = make_plan(MIXED, replace(PlanOptions(), rows=4, columns=4))
    assert (plan.grid.missing, plan.grid.spare) == (4, 0)
    assert sum(cell.photo is None for cell in plan.layout.cells) == 4
    few = make_plan(MIXED, replace(PlanOptions(), rows=3, columns=3))
    assert (few.grid.spare, len(few.layout.spare)) == (3, 3)
    assert {"plan-missing", "plan-spare"} & codes(few) == {"plan-spare"}
    # what is spare is not cut for
    assert sum(kind.count for kind in few.kinds) == 9


def test_extension_pieces() -> None:
    short = Sides(top=0.0, right=4.0, bottom=0.0, left=14.0)
    plan = make_plan([make_record("bib.jpg", 4, short=short), *MIXED], PlanOptions())
    right, left = plan.extensions.pieces
    # 4 mm short, two quarter inches and one to spare are 23 mm: less than the least, an inch
    assert (right.side, right.cut_width_mm) == ("right", INCH)
    # 33.05 mm: on the next eighth of an inch 1 3/8 in
    assert (left.side, left.cut_width_mm) == ("left", F(11, 8) * INCH)
    assert right.cut_length_mm == F(11, 2) * INCH
    # the motif lies 6.35 mm inside the seam line: a seam 4 mm inside clears it, one 14 mm does not
    assert right.seam_from_motif_mm == pytest.approx(2.35)
    assert (right.crosses_motif, left.crosses_motif) == (False, True)
    # a piece is never advised where one of the garment's would be sewn through the motif
    assert {"plan-extension", "plan-extension-crosses"} & codes(plan) == {"plan-extension-crosses"}
    right_only = make_record("bib.jpg", 4, short=replace(short, left=0.0))
    plan = make_plan([right_only, *MIXED], PlanOptions())
    assert {"plan-extension", "plan-extension-crosses"} & codes(plan) == {"plan-extension"}


@given(short=st.integers(1, 100))
def test_extension_pieces_last_for_an_edge_straightened(short: int) -> None:
    # what is short, two allowances of 1/4 in, and 1/4 in or 0.5 cm to trim
    sides = Sides(top=float(short), right=0.0, bottom=0.0, left=0.0)
    records = [make_record("bib.jpg", 4, short=sides)]
    for options in (PlanOptions(), default_options("cm")):
        piece = make_plan(records, options).extensions.pieces[0]
        trim, least = (INCH / 4, INCH) if options.units == "in" else (F(5), F(25))
        assert piece.cut_width_mm >= max(short + INCH / 2 + trim, least)


def test_cautions_name_the_garments_whose_notes_call_for_them() -> None:
    notes = {
        "garment 0.jpg": GarmentNote(garment="Bear suit", note="zip, vinyl print"),
        "garment 1.jpg": GarmentNote(note="Snaps at the legs"),
        "garment 2.jpg": GarmentNote(note="zipless"),
    }
    plan = make_plan(MIXED, PlanOptions(), notes=notes)
    named = {caution.topic: caution.garments for caution in plan.cautions}
    assert set(named["Zips and snaps"]) == {"Bear suit", "garment 1"}
    assert named["Printed motifs"] == ("Bear suit",)
    assert set(named["Small parts"]) == {"Bear suit", "garment 1"}
    assert len(plan.cautions) == len(CAUTIONS)


def test_an_extension_piece_longer_than_the_cloth_is_wide_is_told() -> None:
    short = Sides(top=0.0, right=12.0, bottom=0.0, left=0.0)
    narrow = replace(PlanOptions(), cloth_width_mm=10 * INCH, interfacing="none", strips_mm=())
    words = "cloth 10 in wide does not hold an extension piece 10 1/2 in long"
    with pytest.raises(UsageError, match=words):
        make_plan([make_record("bib.jpg", 9, short=short)], narrow)


NOTES = {
    "Small parts": "zip, zips, zipped, zippered top, zip-up, press-studs, press studs, press stud, "
    "Press-Stud, beaded, beads, buttoned, buttons, sequinned, bow, snapped",
    "Cords": "drawstring, Drawstrings, drawcord, draw string, shoestring, cords, tied, ties, "
    "bowtie, laced, ribbons, strappy, straps",
    "Zips and snaps": "zip, zipper, zippered, press-studs, press stud, snaps, poppers, hooks",
    "Thick cloth": "appliqu\u00e9, applique\u0301, Appliqu\u00e9d, appliqued, appliques, toweling, "
    "towelling, 3D, 3-D, bibs",
    "Printed motifs": "glittery, glitter, iron-on, iron on, iron-ons, printed, screenprinted, "
    "transfers, flocked, vinyl",
    "Old sleepwear": "sleepsuit, sleepsuits, sleeper, sleepers, sleepwear, pyjamas",
}
PLAIN_NOTES = (
    "chord, record, corduroy, cordial, zipless, button-free, zip-free, rainbow, elbow, tie-dye, "
    "tie dyed, tiered skirt, untidy, shoulder, beans, bearded, bistro, snag, sprinter, lunar, "
    "sleepy bear, sleeve, cotton"
)


@pytest.mark.parametrize(
    ("topic", "note"),
    [(topic, note) for topic, notes in NOTES.items() for note in notes.split(", ")],
)
def test_the_usual_words_call_for_their_caution(topic: str, note: str) -> None:
    assert told_by(note)[topic] == ("garment",)


@pytest.mark.parametrize("note", PLAIN_NOTES.split(", "))
def test_words_that_only_look_alike_call_for_none(note: str) -> None:
    assert not any(told_by(note).values())


def told_by(note: str) -> dict[str, tuple[str, ...]]:
    """Garments that each caution names if this is the note of the only one."""
    notes = {"garment 0.jpg": GarmentNote(garment="garment", note=note)}
    centres = make_plan(MIXED[:1], PlanOptions(), notes=notes).centres
    return {caution.topic: caution.garments for caution in list_cautions(centres)}


def test_interfacing_both_ways_and_none() -> None:
    over = make_plan(MIXED, PlanOptions()).interfacing
    exact = make_plan(MIXED, replace(PlanOptions(), interfacing="to-size")).interfacing
    assert over is not None
    assert exact is not None
    assert over.squares[0] == (5 * INCH, 3 * INCH, 2)
    assert exact.squares[0] == (F(7, 2) * INCH, 3 * INCH, 2)
    assert make_plan(MIXED, replace(PlanOptions(), interfacing="none")).interfacing is None


# --- what cannot be ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        ({"block_mm": 8 * INCH}, "must be 9 in or more"),
        ({"strips_mm": (F(3, 2) * INCH,)}, "Nearest that work"),
        ({"interfacing_width_mm": 10 * INCH}, "take a wider one, or none"),
        ({"cloth_width_mm": 9 * INCH, "narrower_mm": INCH}, "take a wider cloth"),
    ],
)
def test_wishes_that_cannot_be_met(wish: dict[str, object], words: str) -> None:
    with pytest.raises(UsageError, match=words):
        make_plan(MIXED, replace(PlanOptions(), **wish))  # type: ignore[arg-type]


def test_no_photo_no_plan() -> None:
    for records in ([], [make_refused()]):
        with pytest.raises(UsageError, match="no photo gives a centre"):
            make_plan(records, PlanOptions())


def test_photos_sized_with_several_allowances() -> None:
    other = replace(MIXED[0], settings=replace(MIXED[0].settings, seam_allowance_mm=7.5))
    with pytest.raises(UsageError, match="size the photos again"):
        make_plan([other, *MIXED[1:]], PlanOptions())


def test_garments_left_out_settle_nothing() -> None:
    # another allowance, and a larger set of sizes, of a garment that is not in the quilt
    settings_of_it = replace(
        MIXED[0].settings, seam_allowance_mm=7.5, sizes_mm=(228.6, float(12 * INCH))
    )
    other = make_record("other.jpg", 9, settings=settings_of_it)
    notes = {"other.jpg": GarmentNote(keep=False)}
    plan = make_plan([*MIXED, other], PlanOptions(), notes=notes)
    assert (plan.seam_allowance_mm, plan.block_mm) == (INCH / 4, 9 * INCH)


# --- for programs --------------------------------------------------------------------------------


def test_json_holds_numbers_and_words_that_agree() -> None:
    plan = make_plan(MIXED, PlanOptions())
    document = json.loads(json.dumps(plan.to_dict(), allow_nan=False))
    assert document["schema"] == PLAN_SCHEMA
    assert (document["block_mm"], document["block"]) == (228.6, "9 in")

    def check(value: object) -> int:
        if isinstance(value, list):
            return sum(map(check, value))
        if not isinstance(value, dict):
            return 0
        twins = [name for name in value if name.endswith("_mm") and name[:-3] in value]
        for name in twins:
            many = value[name] if isinstance(value[name], list) else [value[name]]
            words = value[name[:-3]] if isinstance(value[name], list) else [value[name[:-3]]]
            for number, word in zip(many, words, strict=True):
                assert format_cut(F(number).limit_denominator(10**6), "in") == word
        return len(twins) + sum(map(check, value.values()))

    assert check(document) > 200


def test_a_binding_that_only_the_full_width_gives() -> None:
    # 39 in from a cloth of 40 in; one of 38 in would not do, and no fault comes of asking
    plan = make_plan(MIXED, replace(PlanOptions(), binding_cut_mm=39 * INCH))
    binding = next(need for need in plan.fabrics if need.fabric.name == "binding")
    assert binding.narrower.purchase is None
    assert "plan-bolt-too-narrow" in codes(plan)


def test_borders_as_long_as_the_full_width_come_from_a_narrower_bolt_too() -> None:
    # borders of 38 1/2 in: whole from 40 in, joined from 38 in
    wish = {"block_mm": 10 * INCH, "strips_mm": (INCH,), "borders_mm": (4 * INCH,)}
    plan = make_plan(make_records([4] * 9), replace(PlanOptions(), **wish))  # type: ignore[arg-type]
    border = next(need for need in plan.fabrics if need.fabric.name == "border")
    assert border.narrower.purchase is not None
    assert border.narrower.purchase.buy_mm >= border.purchase.buy_mm
    assert "plan-bolt-too-narrow" not in codes(plan)


def test_parts_that_name_one_fabric_are_cut_from_it() -> None:
    navy = Fabric(name="navy", colour="#203050")
    options = replace(
        PlanOptions(), scheme="one", fabrics=(navy,), binding_fabric=navy, border_fabric=navy,
        borders_mm=(3 * INCH,),
    )  # fmt: skip
    plan = make_plan(MIXED, options)
    assert [need.fabric.name for need in plan.fabrics] == ["navy"]
    uses = {use for group in plan.fabrics[0].groups for use in group.uses}
    assert uses == {"strips", "border", "binding"}


def test_a_hundred_mixed_blocks_are_cut_with_proof() -> None:
    rng = Random(8)
    sizes = [rng.choice((3, 3, 4, 4, 4, 5, 5, 6, 6, 7, 8, 9)) for _ in range(100)]
    plan = make_plan(make_records(sizes), PlanOptions())
    assert all(group.is_proven for need in plan.fabrics for group in need.groups)
    assert plan.interfacing is not None
    assert plan.interfacing.nesting.is_proven

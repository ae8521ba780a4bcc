"""Choosing sizes for a pile: exact against trying every set, and honest about what fails."""

import json
import random
import shlex
from dataclasses import replace
from itertools import combinations

import numpy as np
import piles
import pytest
import records
from typer.testing import CliRunner

from motiffit.choosing import (
    Need,
    best_sets,
    find_outsize,
    least_size,
    need_of,
    propose,
    try_set,
)
from motiffit.cli.app import app
from motiffit.cli.choose_text import _command
from motiffit.corrections import Corrections, answer_digest
from motiffit.errors import UsageError
from motiffit.ledger import Entry, Ledger
from motiffit.measure.placed import fit_square
from motiffit.measure.report import refit_sizing
from motiffit.measure.window import SHORT_CODES, judge_size
from motiffit.record import make_message
from motiffit.resizing import resize
from motiffit.settings import Settings
from motiffit.size_sets import SizeSet, known_sets, sizes_up_to
from motiffit.units import MM_PER_INCH, parse_sizes

INCHES = [25.4 * n for n in range(2, 13)]


def make_need(least_mm, cloth_mm=float("inf"), *, name="a.jpg", is_doubtful=False, **more):
    return Need(
        photo=name,
        least_mm=least_mm,
        maybe_mm=more.pop("maybe_mm", least_mm),
        cloth_mm=cloth_mm,
        ample_mm=more.pop("ample_mm", cloth_mm),
        is_doubtful=is_doubtful,
        **more,
    )


def make_needs(seed, count=12):
    """Draw garments whose needs and cloth fall anywhere between and on the sizes."""
    rng = random.Random(seed)
    needs = []
    for number in range(count):
        least = rng.choice([rng.uniform(30, 290), rng.choice(INCHES)])
        cloth = rng.choice([0.0, float("inf"), rng.choice(INCHES)])
        needs.append(make_need(least, cloth, name=f"{number}.jpg"))
    return needs


def cost(trial):
    return len(trial.cut), len(trial.extend), round(trial.spare_mm, 3)


@pytest.mark.parametrize("seed", range(25))
def test_best_set_of_each_number_is_the_best_of_all_sets(seed):
    needs = make_needs(seed)
    sizes = INCHES[:9] if seed % 2 else INCHES
    best = {len(trial.sizes_mm): cost(trial) for trial in best_sets(needs, sizes)}
    least = None
    for count in range(1, len(sizes) + 1):
        brute = min(cost(try_set(needs, one)) for one in combinations(sizes, count))
        if least is None or brute < least:
            assert best[count] == pytest.approx(brute), count
            least = brute
        else:
            assert count not in best, "a further size that buys nothing is left out"


@pytest.mark.parametrize("seed", range(10))
def test_no_set_of_fewer_sizes_is_as_good_as_the_one_proposed(seed):
    needs = make_needs(100 + seed)
    chosen = propose(best_sets(needs, INCHES))
    spared = min(len(try_set(needs, INCHES).extend), len(chosen.extend))
    assert len(chosen.extend) == spared
    for count in range(1, len(chosen.sizes_mm)):
        for other in combinations(INCHES, count):
            trial = try_set(needs, other)
            assert (len(trial.cut), len(trial.extend)) > (len(chosen.cut), len(chosen.extend))


def test_a_greedy_choice_would_be_worse():
    # by hand: needs 1, 1, 1, 4, 5 (each in mm); with two sizes {1, 5} wastes 1, {4, 5} wastes 9
    needs = [make_need(float(n), name=f"{k}") for k, n in enumerate([1, 1, 1, 4, 5])]
    sets = best_sets(needs, [1.0, 2.0, 3.0, 4.0, 5.0])
    assert [trial.sizes_mm for trial in sets] == [(5.0,), (1.0, 5.0), (1.0, 4.0, 5.0)]
    assert [trial.spare_mm for trial in sets] == [13.0, 1.0, 0.0]


def test_counts_by_hand():
    needs = [
        make_need(70.0, name="small"),
        make_need(70.0, is_doubtful=True, name="doubtful"),
        make_need(90.0, 76.2, name="short"),
        make_need(300.0, name="huge"),
    ]
    trial = try_set(needs, (76.2, 152.4, 228.6))
    names = {part: [need.photo for need in getattr(trial, part)]
             for part in ("fit", "check", "extend", "cut")}  # fmt: skip
    assert names == {
        "fit": ["small"],
        "check": ["doubtful", "short"],
        "extend": ["short"],
        "cut": ["huge"],
    }
    assert trial.squares == (2, 1, 0)
    assert trial.spare_mm == pytest.approx(6.2 + 6.2 + 62.4)


def test_an_eye_is_needed_where_a_smaller_size_of_the_set_may_do():
    need = make_need(80.0, maybe_mm=76.0)
    assert try_set([need], (76.2, 101.6)).check == (need,)
    assert try_set([need], (75.0, 101.6)).fit == (need,), "3 in is hopeless, nobody need look"
    assert try_set([need], (101.6,)).fit == (need,)


def test_what_was_accepted_holds_for_its_size_alone():
    need = make_need(80.0, is_doubtful=True, accepted_mm=101.6)
    assert try_set([need], (101.6,)).fit == (need,)
    assert try_set([need], (127.0,)).check == (need,)


def test_one_size_for_all_when_cloth_is_plenty():
    chosen = propose(best_sets([make_need(n) for n in (60.0, 100.0, 150.0)], INCHES))
    assert chosen.sizes_mm == (25.4 * 6,)


def test_cloth_that_is_scarce_asks_for_a_smaller_size_too():
    needs = [make_need(60.0, 25.4 * 3, name="bib"), make_need(150.0, name="romper")]
    assert propose(best_sets(needs, INCHES)).sizes_mm == pytest.approx((76.2, 152.4))


def test_nothing_to_choose_from():
    assert best_sets([], INCHES) == ()


def test_sizes_offered_hold_the_largest_motif():
    sizes = sizes_up_to(101.7, step_mm=MM_PER_INCH / 2, units="in")
    assert sizes[0] == pytest.approx(50.8)
    assert sizes[-1] == pytest.approx(114.3)
    assert sizes_up_to(10.0, step_mm=MM_PER_INCH, units="in") == (50.8,)


def test_known_sets_are_ascending_sets():
    for one in known_sets():
        assert list(one.sizes_mm) == sorted(set(one.sizes_mm)), one.name
    assert next(iter(known_sets())).words == "3, 4, 5, 6, 7, 8, 9 in"


def test_the_few_that_force_a_large_size_are_found():
    # by hand: eight garments need 2 1/2 to 5 in, two need 10 1/2 in: the newcomer's pile
    small = [make_need(25.4 * n, name=f"{n}") for n in (2.4, 2.5, 3, 3.5, 4, 4.5, 4.8, 5)]
    huge = [make_need(25.4 * 10.2, name="bear"), make_need(25.4 * 10.4, name="whale")]
    sizes = [12.7 * n for n in range(4, 22)]
    needs = [*small, *huge]
    outsize = find_outsize(needs, sizes, propose(best_sets(needs, sizes)))
    assert [need.photo for need in outsize.needs] == ["whale", "bear"]
    assert outsize.without.sizes_mm == pytest.approx((127.0,))
    assert outsize.without.sizes_mm == propose(best_sets(small, sizes)).sizes_mm


def test_sizes_that_grow_evenly_have_no_few_to_blame():
    needs = [make_need(25.4 * n, name=f"{n}") for n in (6, 6.5, 7, 7.5, 8, 8.5, 9, 9.5)]
    sizes = [12.7 * n for n in range(4, 22)]
    assert find_outsize(needs, sizes, propose(best_sets(needs, sizes))) is None


def test_a_third_of_a_pile_is_not_a_few():
    needs = [make_need(25.4 * n, name=f"{n}") for n in (3, 3, 9)]
    assert find_outsize(needs, INCHES, propose(best_sets(needs, INCHES))) is None


@pytest.mark.parametrize(
    ("sizes_mm", "units", "words"),
    [
        ((76.2, 114.3), "in", "3, 4 1/2 in"),
        ((75.0, 100.0), "cm", "7.5, 10 cm"),
        ((141.0, 167.0), "in", "141, 167 mm"),
        ((76.2,), "cm", "76.2 mm"),
        ((141.0, 141.2), "in", "141, 141.2 mm"),
    ],
)
def test_words_of_a_set_are_read_back_as_that_set(sizes_mm, units, words):
    one = SizeSet(name="", sizes_mm=sizes_mm, units=units)
    assert one.words == words
    assert [float(size) for size in parse_sizes(words, units)] == pytest.approx(sizes_mm)


# -- from records -----------------------------------------------------------------------------


def make_pile(folder, cases):
    ledger = Ledger.open(folder)
    for name, motif_mm in cases.items():
        (folder / name).write_bytes(name.encode())
        case = records.Case(photo=name, motifs_mm=(motif_mm,) if motif_mm else ())
        ledger.write(name, records.make_sizing(case), photo_hash="x", settings=Settings())
    return ledger


def test_least_size_is_where_the_size_begins_to_clear(tmp_path):
    entry = next(make_pile(tmp_path, {"a.jpg": (200.0, -180.0, 78.0, 72.0)}).entries())
    least, motif = least_size(entry), entry.sizing.motifs[0]
    assert judge_size(least, motif, Settings()).clears
    assert not judge_size(least - 0.02, motif, Settings()).clears
    # 78 mm wide + 2 x 1/8 in clearance, and between one and three sd of 0.4 mm on each side
    assert 78 + 2 * 3.175 + 2 * 0.4 < least < 78 + 2 * 3.175 + 6 * 0.4


def test_a_persons_size_stands(tmp_path):
    ledger = make_pile(tmp_path, {"a.jpg": (200.0, -180.0, 78.0, 72.0)})
    ledger.tell("a.jpg", {"size_mm": 152.4}, by="test")
    assert least_size(next(ledger.entries())) == 152.4


SETS_MM = [
    tuple(25.4 * n for n in range(3, 10)),
    tuple(25.4 * n for n in (3, 6, 9)),
    tuple(12.7 * n for n in range(4, 20)),
    (76.2,),
    (127.0,),
]


def draw_entry(rng, number):
    """Draw a record: more or less sure, with doubts, put by hand, accepted, at the cloth's edge."""
    width, height, sd = rng.uniform(40, 140), rng.uniform(40, 140), rng.choice([0.4, 1, 2, 3])
    case = records.Case(
        photo=f"{number}.jpg",
        motifs_mm=((200.0, rng.choice([-180.0, -240.0]), width, height),),
        sd_mm=sd,
        codes=rng.choice([(), (), ("motif-doubtful",)]),
    )
    sizing = records.make_sizing(case)
    if rng.random() < 0.4:
        centre = (200.0 + rng.uniform(-15, 15), -180.0 + rng.uniform(-15, 15))
        x, y = case.view.to_px([centre])[0]
        settings = replace(sizing.settings, place=(float(x), float(y), rng.choice([0.0, 12.0])))
        outline = np.array(sizing.garment.outline_mm)
        fit = fit_square(sizing.motifs[0], outline, 0.0, settings, placed_mm=centre)
        sizing = refit_sizing(sizing, settings, fit)
    said = Corrections()
    if rng.random() < 0.4:
        said = said.told({"accepted": answer_digest(sizing, "h")}, at="t", by="test")
    return Entry(photo=sizing.photo, sizing=sizing, photo_hash="h", program="", said=said)


@pytest.mark.parametrize("sizes_mm", SETS_MM)
def test_a_set_is_judged_as_the_pile_would_be_answered(sizes_mm):
    rng = random.Random(8)
    entries = [draw_entry(rng, number) for number in range(150)]
    trial = try_set([need_of(entry, sizes_mm) for entry in entries], sizes_mm)
    expected = {"fit": [], "check": [], "extend": [], "cut": []}
    for entry in entries:
        sizing = resize(entry.sizing, replace(entry.sizing.settings, sizes_mm=sizes_mm))
        answered = replace(entry, sizing=sizing)
        is_short = sizing.says(SHORT_CODES)
        if not any(size.clears for size in sizing.sizes):
            expected["cut"].append(entry.photo)
        elif sizing.outcome == "sized" or (answered.is_accepted and not is_short):
            expected["fit"].append(entry.photo)
        else:
            expected["check"].append(entry.photo)
            expected["extend"] += [entry.photo] if is_short else []
    found = {part: [need.photo for need in getattr(trial, part)] for part in expected}
    assert found == expected
    assert min(len(expected[part]) for part in ("fit", "check")) > 0


def test_a_square_put_by_hand_is_judged_where_it_lies():
    # by hand: a motif of 60 mm, the square 20 mm off: 2 x (30 + 20 + 3.175) mm and some sd
    sizing = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 60.0, 60.0),)))
    settings = replace(sizing.settings, place=(0.0, 0.0, 0.0))
    outline = np.array(sizing.garment.outline_mm)
    fit = fit_square(sizing.motifs[0], outline, 0.0, settings, placed_mm=(200.0, -160.0))
    entry = Entry(
        photo="a.jpg",
        sizing=refit_sizing(sizing, settings, fit),
        photo_hash="h",
        program="",
        said=Corrections(),
    )
    assert 2 * 53.175 + 2 * 0.4 < least_size(entry) < 2 * 53.175 + 6 * 0.4


@pytest.mark.parametrize(("size_mm", "part"), [(127.0, "fit"), (76.2, "check")])
def test_of_a_persons_size_its_own_answer_stands(tmp_path, size_mm, part):
    ledger = make_pile(tmp_path, {"a.jpg": (200.0, -180.0, 78.0, 72.0)})
    ledger.tell("a.jpg", {"size_mm": size_mm}, by="test")
    settings = Settings(sizes_mm=(size_mm,))
    sizing = records.make_sizing(
        records.Case(
            photo="a.jpg", motifs_mm=((200.0, -180.0, 78.0, 72.0),), sd_mm=3.0, settings=settings
        )
    )
    ledger.write("a.jpg", sizing, photo_hash="x", settings=Settings())
    need = need_of(next(ledger.entries()), INCHES)
    assert getattr(try_set([need], INCHES), part) == (need,)


def test_a_card_on_the_motif_is_in_the_way_at_every_size(tmp_path):
    ledger = make_pile(tmp_path, {"a.jpg": (200.0, -180.0, 60.0, 60.0)})
    entry = next(ledger.entries())
    message = make_message("reference-in-the-way", kind="card")
    hidden = replace(entry, sizing=replace(entry.sizing, messages=(message,)))
    assert not need_of(entry, INCHES).is_doubtful
    assert need_of(hidden, INCHES).is_doubtful


def test_cloth_allows_what_lies_on_the_garment(tmp_path):
    # the garment spans x 80..320 and y -330..40 mm; a motif at its middle leaves a square of 240 mm
    entry = next(make_pile(tmp_path, {"a.jpg": (200.0, -145.0, 60.0, 60.0)}).entries())
    need = need_of(entry, [76.2, 203.2, 226.0, 229.0, 254.0])
    assert need.cloth_mm == 226.0  # + 2 x 6.35 mm seam allowance = 238.7 mm


def test_a_square_that_ends_at_the_garments_edge_needs_an_eye(tmp_path):
    # 221 mm + 2 x 6.35 mm leaves 3.1 mm to each side of the garment's 240 mm, 222 mm 2.6 mm
    entry = next(make_pile(tmp_path, {"a.jpg": (200.0, -145.0, 210.0, 60.0)}).entries())
    sizes = [203.2, 221.0, 222.0, 226.0, 229.0]
    need = need_of(entry, sizes)
    assert (need.cloth_mm, need.ample_mm) == (226.0, 221.0)
    for size in sizes[2:4]:
        sized = resize(entry.sizing, Settings(sizes_mm=(size,)))
        assert "cloth-scant" in {m.code for m in sized.messages}
        assert try_set([need], [size]).check == (need,)
    assert try_set([need], [221.0]).fit == (need,)


def test_command_says_which_garments_fail_which_set(tmp_path):
    make_pile(
        tmp_path,
        {
            "small.jpg": (200.0, -180.0, 60.0, 60.0),
            "large.jpg": (200.0, -150.0, 215.0, 200.0),
            "plain.jpg": None,
        },
    )
    before = sorted(path.name for path in tmp_path.rglob("*"))
    answer = CliRunner().invoke(app, ["choose", str(tmp_path), "--sizes", "4, 5 in"])
    assert answer.exit_code == 0, answer.output
    assert "2 garments with a motif" in answer.stdout
    # 215 mm + 2 x 1/8 in + about 2 x 2.3 sd of 0.4 mm = 223 mm, rounded up to a sixteenth
    assert "large.jpg: 8 13/16 in or more; cut by your own" in answer.stdout
    assert "Proposed: " in answer.stdout
    assert sorted(path.name for path in tmp_path.rglob("*")) == before, "nothing is written"


OUTSIZE = {
    **{f"small {n}.jpg": (200.0, -180.0, 60.0 + n, 60.0) for n in range(4)},
    "large.jpg": (200.0, -150.0, 215.0, 200.0),
}


def test_command_leaves_what_forces_the_largest_size_out_of_the_proposal(tmp_path):
    make_pile(tmp_path, OUTSIZE)
    answer = CliRunner().invoke(app, ["choose", str(tmp_path)])
    words = " ".join(answer.stdout.split())
    assert words.startswith("5 garments with a motif ")
    said = (
        "Left out of the proposal, and so without a block: large.jpg (8 13/16 in). With it the set "
        "would be 9 in."
    )
    assert words.index(said) < words.index("Proposed: 3 in Every other motif has room: 3 in for 4.")
    assert "large.jpg: 8 13/16 in or more; cut by" in words
    command = f"motiffit choose {tmp_path} --all-garments"
    assert f"To include it: {command}" in words
    again = CliRunner().invoke(app, shlex.split(command)[1:])
    words = " ".join(again.stdout.split())
    assert "Proposed: 9 in Every motif has room: 9 in for 5." in words
    assert "9 in is there only for large.jpg (8 13/16 in). Without it the set would be 3 in." in (
        words
    )
    left = CliRunner().invoke(app, ["choose", str(tmp_path), "--leave-out", "large.jpg"])
    assert left.stdout.startswith("4 garments with a motif\n")
    assert "Left out" not in left.stdout
    document = json.loads(CliRunner().invoke(app, ["choose", str(tmp_path), "--json"]).stdout)
    assert document["outsize"]["photos"] == ["large.jpg"]
    assert document["outsize"]["without_mm"] == document["proposed_mm"] == [76.2]
    assert document["outsize"]["with_mm"] == pytest.approx([228.6])


def test_command_names_the_very_command_that_uses_the_set(tmp_path, monkeypatch):
    settings = Settings(units="cm", seam_allowance_mm=6.35, clearance_mm=4.5, side_mm=98.425)
    folder = tmp_path / "my photos"
    folder.mkdir()
    ledger = Ledger.open(folder)
    (folder / "a.jpg").write_bytes(b"a")
    sizing = records.make_sizing(records.Case(photo="a.jpg", settings=settings))
    ledger.write("a.jpg", sizing, photo_hash="x", settings=settings)
    answer = CliRunner().invoke(app, ["choose", str(folder), "--units", "cm"])
    command = answer.stdout.split("To use it:\n")[1].splitlines()[0].strip()
    assert command == (
        f'motiffit pile "{folder}" --sizes "9 cm" --seam-allowance "1/4 in" --clearance "4.5 mm" '
        '--side "3 7/8 in" --units cm'
    )
    asked = []
    monkeypatch.setattr(
        "motiffit.cli.pile_run.run_pile", lambda _, given, **kw: asked.append(given)
    )
    assert CliRunner().invoke(app, shlex.split(command)[1:]).exit_code == 0
    assert asked == [replace(settings, sizes_mm=(90.0,))]


def test_names_with_signs_of_the_shell_are_quoted():
    assert _command(["choose", "a b", "--leave-out", "$HOME.jpg", "x"]) == (
        """motiffit choose "a b" --leave-out '$HOME.jpg' x"""
    )


def test_a_name_that_no_garment_has_is_refused(tmp_path):
    make_pile(tmp_path, OUTSIZE)
    answer = CliRunner().invoke(app, ["choose", str(tmp_path), "--leave-out", "larg"])
    assert isinstance(answer.exception, UsageError)
    assert "'larg'" in str(answer.exception)


def test_command_for_programs(tmp_path):
    make_pile(tmp_path, {"small.jpg": (200.0, -180.0, 60.0, 60.0), "plain.jpg": None})
    answer = CliRunner().invoke(app, ["choose", str(tmp_path), "--json"])
    document = json.loads(answer.stdout)
    assert document["without_motif"] == ["plain.jpg"]
    assert document["proposed_mm"] == [76.2]
    assert {one["name"] for one in document["sets"]} >= {"whole inches", "metric"}


@pytest.mark.parametrize(
    "words", [["--step", "0.2 mm"], ["--sizes", "big"], ["--step", "four"], ["--sizes", "0 in"]]
)
def test_wrong_usage(tmp_path, words):
    make_pile(tmp_path, {"a.jpg": (200.0, -180.0, 60.0, 60.0)})
    assert CliRunner().invoke(app, ["choose", str(tmp_path), *words]).exit_code == 2


def test_pile_without_a_motif(tmp_path):
    make_pile(tmp_path, {"plain.jpg": None})
    answer = CliRunner().invoke(app, ["choose", str(tmp_path)])
    assert answer.exit_code == 2
    assert "has a motif" in answer.stderr


def age(folder, photo, kind):
    """Make a photo's record one that an earlier or a later version of the program wrote."""
    path = next((folder / "motiffit" / "records").glob(f"{photo.partition('.')[0]}-*.json"))
    record = json.loads(path.read_text())
    if kind == "schema":
        record["schema"] = "motiffit.sizing/0"
    else:
        record["settings"]["corner_mm"] = 3.0
    path.write_text(json.dumps(record))


@pytest.mark.parametrize("kind", ["schema", "setting"])
def test_records_that_cannot_be_read_are_no_missing_motifs(tmp_path, kind):
    garments = {"one.jpg": (200.0, -180.0, 60.0, 60.0), "two.jpg": (200.0, -180.0, 90.0, 90.0)}
    make_pile(tmp_path, garments)
    assert Ledger.open(tmp_path).unread() == ()
    age(tmp_path, "one.jpg", kind)
    some = CliRunner().invoke(app, ["choose", str(tmp_path)])
    assert some.exit_code == 0
    assert some.stdout.startswith("1 garment with a motif")
    assert f"1 record of {tmp_path} cannot be read" in some.stderr
    age(tmp_path, "two.jpg", kind)
    none = CliRunner().invoke(app, ["choose", str(tmp_path)])
    assert none.exit_code == 2
    assert none.stdout == ""
    assert f"2 records of {tmp_path} cannot be read" in none.stderr
    assert "Measure the pile again with 'motiffit pile'" in none.stderr
    assert "motif that was measured" not in none.stderr


def test_photos_that_were_not_sized_yet_are_named(tmp_path):
    garments = {"one.jpg": (200.0, -180.0, 60.0, 60.0), "two.jpg": (200.0, -180.0, 90.0, 90.0)}
    make_pile(tmp_path, garments)
    piles.make_photos(tmp_path, 5)
    told = CliRunner().invoke(app, ["choose", str(tmp_path)])
    assert told.exit_code == 0
    words = f"5 photos of {tmp_path} are not sized yet and not counted: IMG_1.jpg, IMG_2.jpg, IMG_3"
    assert words in told.stderr
    assert "and 2 more. Run 'motiffit pile' first" in told.stderr

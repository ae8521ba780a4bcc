"""``motiffit plan``: from a pile on the disk to files, and words for what cannot be."""

import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import typer
from plans import make_record
from records import make_refused

from motiffit.cli.app import main
from motiffit.cli.plan import PLAN_EPILOG
from motiffit.cli.plan_options import Wishes, make_options
from motiffit.cli.terminal import hold_stdout
from motiffit.errors import FileError
from motiffit.garments import read_table
from motiffit.ledger import Ledger
from motiffit.quilt.options import PlanOptions
from motiffit.settings import Settings
from motiffit.show.picture_file import encode_picture
from motiffit.units import MM_PER_INCH

FILES = (
    "index.html",
    "sheets.pdf",
    "quilt.jpg",
    "shopping.csv",
    "cutting.csv",
    "layout.csv",
    "plan.json",
)
SIZES = {"bear": 3, "duck": 4, "star": 4, "moon": 5, "boat": 6, "kite": 9}


def fill_pile(folder, sizes):
    """Put photos and their records into a folder."""
    folder.mkdir(exist_ok=True)
    ledger = Ledger.open(folder)
    for number, (name, size) in enumerate(sizes.items()):
        photo = f"{name}.jpg"
        picture = np.full((1000, 1500, 3), (60 + 20 * number) % 256, np.uint8)
        (folder / photo).write_bytes(encode_picture(picture, ".jpg"))
        record = make_record(photo, size)
        ledger.write(
            photo, record, photo_hash=ledger.hash_of(photo) or "", settings=record.settings
        )
    return ledger


@pytest.fixture
def pile(tmp_path, monkeypatch):
    """A pile of six garments, in a folder named photos."""
    monkeypatch.chdir(tmp_path)
    return fill_pile(tmp_path / "photos", SIZES)


@pytest.fixture
def run(monkeypatch, capfd):
    """Run the command line as the shell does; give status, stdout and stderr."""

    def run_words(*words):
        monkeypatch.setattr(sys, "argv", ["motiffit", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            main()
        out, err = capfd.readouterr()
        return int(end.value.code or 0), out, err

    return run_words


def test_a_pile_becomes_files_and_a_screen(run, pile):
    status, out, err = run("plan", "photos")
    assert (status, err) == (0, "")
    assert "3 rows of 2 blocks, 18 in wide and 27 in long" in out
    home = pile.home / "plan"
    assert {path.name for path in home.iterdir()} == set(FILES)
    assert all(name in out for name in FILES)
    assert json.loads((home / "plan.json").read_text())["schema"] == "motiffit.plan/1"
    assert (home / "sheets.pdf").read_bytes().startswith(b"%PDF")
    assert (home / "quilt.jpg").read_bytes().startswith(b"\xff\xd8")


def test_json_prints_the_plan_and_writes_nothing(run, pile):
    before = {path: path.read_bytes() for path in pile.home.rglob("*") if path.is_file()}
    status, out, err = run("plan", "photos", "--json")
    assert (status, err) == (0, "")
    plan = json.loads(out)
    assert [centre["name"] for centre in plan["centres"]] == sorted(SIZES)
    assert plan["centres"][0]["colour"] == "#3c3c3c"
    after = {path: path.read_bytes() for path in pile.home.rglob("*") if path.is_file()}
    assert after == before


CHATTY = [7, 9, 5, 8, 7, 3, 6, 5, 9, 9, 3, 8, 7, 8, 3, 5, 8, 7, 7, 7, 9, 6, 9, 7, 7, 5, 7, 4, 8, 9]
"""Centres in inches over which HiGHS of scipy 1.17, cutting from 105 cm, writes to stdout."""


def test_json_is_all_that_is_printed_where_the_solver_prints_too(tmp_path):
    fill_pile(tmp_path, {f"garment {number:02}": size for number, size in enumerate(CHATTY)})
    words = ["plan", str(tmp_path), "--json", "--units", "cm"]
    command = [sys.executable, "-m", "motiffit", *words]
    done = subprocess.run(command, capture_output=True, check=True)
    assert json.loads(done.stdout)["schema"] == "motiffit.plan/1"
    assert done.stderr == b""


def test_what_compiled_code_prints_is_held_back_but_nothing_before_or_after(capfd):
    os.write(1, b"before ")
    with hold_stdout():
        os.write(1, b"chatter")
    os.write(1, b"after")
    assert capfd.readouterr().out == "before after"


def test_a_closed_stdout_needs_no_holding():
    script = (
        "import os; from motiffit.cli.terminal import hold_stdout; os.close(1)\n"
        "with hold_stdout(): pass"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, check=False)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_second_run_gives_the_same_files(run, pile):
    run("plan", "photos", "-q")
    first = {name: (pile.home / "plan" / name).read_bytes() for name in FILES}
    run("plan", "photos", "-q")
    assert {name: (pile.home / "plan" / name).read_bytes() for name in FILES} == first


FORM = {"block": "12 in", "strips": "1 in", "size": "36 x 48 in", "direction": "counter-clockwise"}


def options_printed(run, *words):
    """Run the plan as JSON; what it was made from, and what was said beside it."""
    status, out, err = run("plan", "photos", "--json", *words)
    assert status == 0
    return json.loads(out)["options"], err


def test_the_wishes_of_the_review_page_hold_and_are_named(run, pile):
    (pile.home / "quilt.json").write_text(json.dumps(FORM))
    options, err = options_printed(run)
    assert [options["block"], options["strips"]] == ["12 in", ["1 in"]]
    assert options["wish"] == ["36 in", "48 in"]
    assert not options["is_clockwise"]
    assert err == (
        "motiffit: as wished on the review page: block 12 in; strips 1 in; direction "
        "counter-clockwise; size 36 x 48 in\n"
    )
    assert run("plan", "photos", "-q")[2] == ""


def test_an_option_wins_over_the_review_page_even_with_the_usual_value(run, pile):
    (pile.home / "quilt.json").write_text(json.dumps({**FORM, "rows": 3, "outer_sash": True}))
    options, err = options_printed(
        run, "--clockwise", "--block", "14 in", "--quilt-size", "40 x 50 in", "--no-outer-sash"
    )
    assert [options["block"], options["strips"]] == ["14 in", ["1 in"]]
    assert options["is_clockwise"]
    assert [options["rows"], options["has_outer_sash"]] == [None, False]
    assert err == "motiffit: as wished on the review page: strips 1 in\n"


def test_fabrics_and_lengths_of_the_page_are_read_in_its_own_units(run, pile):
    form = {
        "strips": "1",
        "fabrics": [["cream", "#e9dfc9"], ["navy", "#203050"]],
        "sash_fabric": ["sky", "#88aacc"],
        "border_fabric": ["sea", "#113355"],
        "motifs_only": True,
    }
    (pile.home / "quilt.json").write_text(json.dumps(form))
    options, err = options_printed(run, "--units", "cm", "--part", "sash=navy")
    assert options["strips_mm"] == [25.4]
    assert options["cloth_width_mm"] == 1050  # left empty: what is usual in the units shown
    assert options["sash_fabric"]["colour"] == "#203050"
    assert err == (
        "motiffit: as wished on the review page: strips 1; motifs only; fabrics cream, navy; "
        "border fabric sea\n"
    )


def test_lengths_of_the_page_hold_in_other_units_though_usual_in_its_own(run, pile):
    # 40 in, 40 in and 2 1/2 in are what is taken in inches; in centimetres 105, 105 and 6.5
    form = {
        "cloth_width": "40 in",
        "backing_width": "40",
        "binding_width": "2 1/2 in",
        "shop": "yard",
        "shrinkage": "3",
    }
    (pile.home / "quilt.json").write_text(json.dumps(form))
    options, _ = options_printed(run, "--units", "cm")
    assert [options["units"], options["shop"]] == ["cm", "yard"]
    lengths = [options[f"{name}_mm"] for name in ("cloth_width", "backing_width", "binding_cut")]
    assert lengths == [1016.0, 1016.0, 63.5]
    assert options["interfacing_width_mm"] == 900


@pytest.mark.parametrize(
    "example", [line.strip() for line in PLAN_EPILOG.splitlines() if "  motiffit" in line]
)
def test_examples_of_the_help_run(run, pile, example):
    words = shlex.split(example)
    words = words[: words.index(">")] if ">" in words else words
    status, out, err = run(*words[1:])
    assert (status, err) == (0, "")
    assert out


def test_the_table_pins_and_groups_blocks(run, pile):
    (pile.folder / "garments.csv").write_text(
        "photo,garment,note,keep,pin,together,apart\n"
        "bear.jpg,Bear suit,zip,,3/2,,\n"
        "duck,,,no,,,\n"
        "moon.jpg,,,,,night,\n"
        "star.jpg,,,,,night,\n"
    )
    status, out, _ = run("plan", "photos", "--json")
    plan = json.loads(out)
    assert status == 0
    places = {cell["photo"]: (cell["row"], cell["column"]) for cell in plan["layout"]["cells"]}
    assert places["bear.jpg"] == (3, 2)
    night = np.subtract(places["moon.jpg"], places["star.jpg"])
    assert abs(night).sum() == 1


def test_notes_and_names_of_the_table_reach_the_plan(run, pile):
    (pile.folder / "garments.csv").write_text(
        "photo;garment;note;keep\nbear.jpg;Bear suit;zip;\nduck.jpg;;;no\n"
    )
    run("plan", "photos", "-q")
    plan = json.loads((pile.home / "plan" / "plan.json").read_text())
    assert {"Bear suit"} <= {centre["name"] for centre in plan["centres"]}
    assert [left["photo"] for left in plan["left_out"]] == ["duck.jpg"]
    zips = next(item for item in plan["cautions"] if item["topic"] == "Zips and snaps")
    assert zips["garments"] == ["Bear suit"]


def test_json_heeds_the_table_as_the_files_do_without_noting_it(run, pile):
    table = pile.folder / "garments.csv"
    table.write_text(
        "photo,garment,note,keep,pin\nbear.jpg,Bear suit,zip; soft,,2/2\nduck.jpg,,,no,\n"
    )
    assert run("plan", "photos", "-q")[0] == 0
    table.write_text("photo,garment,note,keep,pin\nduck.jpg,Ducks,vinyl,,\nstar.jpg,,,no,1/1\n")
    before = {path: path.read_bytes() for path in pile.home.rglob("*") if path.is_file()}
    printed = json.loads(run("plan", "photos", "--json")[1])
    assert {path: path.read_bytes() for path in pile.home.rglob("*") if path.is_file()} == before
    assert [left["photo"] for left in printed["left_out"]] == ["star.jpg"]
    assert {"Ducks", "bear"} <= {centre["name"] for centre in printed["centres"]}
    assert run("plan", "photos", "-q")[0] == 0
    assert json.loads((pile.home / "plan" / "plan.json").read_text()) == printed


def test_two_photos_of_a_garment_keep_their_own_names(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ledger = fill_pile(tmp_path / "photos", {"romper front": 4, "romper back": 5, "bib": 3})
    for photo in ("romper front.jpg", "romper back.jpg"):
        ledger.tell(photo, {"keep": True}, by="test")
    _, out, _ = run("plan", "photos", "--json")
    names = {centre["name"] for centre in json.loads(out)["centres"]}
    assert names == {"romper, romper front", "romper, romper back", "bib"}


def test_garments_can_be_left_out_by_name_or_for_want_of_a_motif(run, pile):
    record = make_record("plain.jpg", 6, outcome="no-motif", motifs=())
    (pile.folder / "plain.jpg").write_bytes(b"x")
    pile.write("plain.jpg", record, photo_hash="", settings=record.settings)
    _, out, _ = run("plan", "photos", "--json", "--leave-out", "bear", "--motifs-only")
    plan = json.loads(out)
    assert [left["photo"] for left in plan["left_out"]] == ["bear.jpg", "plain.jpg"]
    assert len(plan["centres"]) == len(SIZES) - 1
    status, _, err = run("plan", "photos", "--leave-out", "beer")
    assert (status, "'beer'" in err) == (2, True)


def test_a_photo_that_was_not_sized_yet_is_named(run, pile):
    (pile.folder / "new.jpg").write_bytes((pile.folder / "bear.jpg").read_bytes())
    status, out, err = run("plan", "photos", "--json")
    assert status == 0
    assert json.loads(out)
    assert "1 photo of photos is not sized yet and not counted: new.jpg." in err


def test_a_photo_that_is_gone_or_unreadable_still_has_its_block(run, pile):
    (pile.folder / "bear.jpg").write_bytes(b"no picture")
    status, _, err = run("plan", "photos", "-q")
    assert (status, err) == (0, "")


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (["--strips", "1 1/2 in"], "Nearest that work"),
        (["--block", "8 in"], "must be 9 in or more"),
        (["--block", "wide"], "not a length"),
        (["--bed", "twin", "--quilt-size", "50 x 60 in"], "--bed or --quilt-size"),
        (["--drop", "10 in"], "belongs to --bed"),
        (["--quilt-size", "50"], "50 x 60 in"),
        (["--fabrics", "navy:blue"], "not a colour"),
        (["--part", "sleeve=navy"], "binding=navy"),
        (["--part", "binding"], "binding=navy"),
        (["--rows", "0"], "--rows"),
        (["--scheme", "own"], "names"),
        (["--backing-width", "1 in"], "wider than the seams that join it"),
        (["--binding-width", "45 in"], "binding must be narrower than the cloth"),
        (["--borders", "100 in"], "'border' for border needs pieces 100 1/2 in wide"),
        (["--sashing", "60 in"], "needs pieces 60 1/2 in long"),
        (["--rows", "100000"], "99994 plain blocks"),
        (["--quilt-size", "1000 x 1000 in"], "plain blocks"),
        (["--block", "400 in"], "choose another block"),
        (["--seam-take-up", "1 in"], "leaves nothing of it"),
    ],
)
def test_wishes_that_cannot_be(run, pile, words, reason):
    status, out, err = run("plan", "photos", *words)
    assert (status, out) == (2, "")
    assert reason in " ".join(err.split())
    assert not (pile.home / "plan").exists()


def test_no_pile_no_plan(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "photos").mkdir()
    for words in (["photos"], ["photos", "--json"], ["nowhere"]):
        status, out, err = run("plan", *words)
        assert (status, out) == (2, "")
        assert "motiffit pile" in err or "no folder" in err


def test_a_pile_without_any_square_gives_no_plan(run, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "photos").mkdir()
    ledger = Ledger.open(tmp_path / "photos")
    (tmp_path / "photos" / "a.jpg").write_bytes(b"x")
    ledger.write("a.jpg", make_refused(photo="a.jpg"), photo_hash="", settings=Settings())
    status, _, err = run("plan", "photos")
    assert status == 2
    assert "nothing to plan" in err


def test_every_option_is_in_the_docs(run):
    text = (Path(__file__).parent.parent / "docs" / "quilt.md").read_text()
    _, out, _ = run("plan", "--help")
    options = set(re.findall(r"(?<=[ ,/])--[a-z-]+", out)) - {"--help"}
    assert {option for option in options if option not in text} == set()


# --- how words are read --------------------------------------------------------------------------


def options_of(units="in", **told):
    """Read wishes given by name."""
    names = ("strips", "borders", "fabrics", "quilt_size", "bed", "drop", "shrinkage")
    empty = {**dict.fromkeys(names), "parts": [], "lengths": {}, "choices": {}}
    return make_options(Wishes(**{**empty, **told}), units)


def test_nothing_told_are_the_usual_wishes():
    assert options_of() == PlanOptions()


INCH_SIGNS = ('"', "\u2033", "\u201d")  # as keyboards, books and phones write an inch


def test_lists_of_lengths_keep_their_order():
    inch = MM_PER_INCH
    assert options_of(strips="2, 1 in").strips_mm == (2 * inch, inch)
    assert options_of(strips="2,5; 3", units="cm").strips_mm == (25, 30)
    for sign in INCH_SIGNS:
        wished = options_of(strips=f"1, 1 1/2{sign}", quilt_size=f"50 x 60{sign}", units="cm")
        assert wished.strips_mm == (inch, inch * 3 / 2)
        assert wished.wish_mm == (50 * inch, 60 * inch)
    assert options_of(borders="1 1/2 in; 10 cm").borders_mm == (3 * inch / 2, 100)


def test_sizes_of_quilts():
    inch = MM_PER_INCH
    assert options_of(quilt_size="50 x 60 in").wish_mm == (50 * inch, 60 * inch)
    assert options_of(quilt_size="90x120", units="cm").wish_mm == (900, 1200)
    assert options_of(bed="twin", drop="12").wish_mm == (63 * inch, 87 * inch)


def test_fabrics_with_and_without_colours():
    options = options_of(fabrics="cream:#e9dfc9, navy", parts=["binding=navy:#203050"])
    assert [fabric.name for fabric in options.fabrics] == ["cream", "navy"]
    assert options.fabrics[0].colour == "#e9dfc9"
    assert options.binding_fabric.colour == "#203050"
    with pytest.raises(typer.BadParameter, match="no name"):
        options_of(fabrics=":#203050")


def test_a_part_of_a_fabric_of_the_strips_has_its_colour():
    options = options_of(fabrics="cream, navy:#203050", parts=["binding=navy", "border= navy "])
    assert options.binding_fabric == options.border_fabric == options.fabrics[1]
    assert options_of(parts=["binding=navy"]).binding_fabric.colour == "#5b7089"


def test_shrinkage_is_in_per_cent():
    assert float(options_of(shrinkage=2.5).shrinkage) == 0.025


# --- the table's columns for the layout ----------------------------------------------------------


def test_pins_of_the_table(tmp_path):
    path = tmp_path / "garments.csv"
    path.write_text("photo,pin,together,apart\na.jpg,2/3,sisters,\nb.jpg,row 1 column 4,,red\n")
    table = read_table(path)
    assert (table["a.jpg"].pin, table["a.jpg"].together) == ((2, 3), "sisters")
    assert (table["b.jpg"].pin, table["b.jpg"].apart) == ((1, 4), "red")
    path.write_text("photo,pin\na.jpg,middle\n")
    with pytest.raises(FileError, match="row and column"):
        read_table(path)

"""The quilt's page: its form, swapped blocks, its files, and the comparison of size sets."""

import inspect
import json
from dataclasses import fields, replace

import pytest
from records import Case, make_refused, make_sizing
from reviewing import OWN, open_page
from typer.testing import CliRunner

from motiffit.cli.app import app
from motiffit.cli.plan import plan
from motiffit.cli.plan_options import Wishes, make_options
from motiffit.errors import UsageError
from motiffit.ledger import Ledger
from motiffit.planning import read_places
from motiffit.quilt import default_options
from motiffit.record import make_message
from motiffit.review.form import QuiltForm, read_form, usual_words
from motiffit.settings import Settings
from motiffit.units import MM_PER_INCH

NAMES = ("a.jpg", "b.jpg", "c.jpg", "d.jpg")


@pytest.fixture
def page(tmp_path):
    """Four garments that were measured; their photos are not at hand, so centres show plain."""
    for name in NAMES:
        (tmp_path / name).write_bytes(name.encode())
    ledger = Ledger.open(tmp_path)
    for name in NAMES:
        ledger.write(
            name,
            make_sizing(Case(photo=name)),
            photo_hash=ledger.hash_of(name),
            settings=Settings(),
        )
    return open_page(tmp_path)


def send(page, path, words):
    return page.client.post(f"/api/quilt/{path}", json=words, headers=OWN)


def by_place(look):
    return {(cell["row"], cell["column"]): cell["photo"] for cell in look["cells"]}


def test_swapped_blocks_stay_and_all_others_too(page):
    before = by_place(page.client.get("/api/quilt").json())
    look = send(page, "swap", {"one": [1, 1], "other": [1, 2]}).json()
    after = by_place(look)
    assert (after[1, 1], after[1, 2]) == (before[1, 2], before[1, 1])
    assert {place: after[place] for place in list(after)[2:]} == {
        place: before[place] for place in list(before)[2:]
    }
    assert {photo: place for place, photo in after.items() if photo} == read_places(page.ledger)
    assert look["wanted"] == {photo: list(place) for place, photo in after.items() if photo}
    # an undo puts back what stood there, here: nothing was pinned
    back = send(page, "restore", {"form": look["form"], "places": {}}).json()
    assert by_place(back) == before


def test_laying_out_anew_forgets_places(page):
    send(page, "swap", {"one": [1, 1], "other": [1, 2]})
    look = send(page, "anew", {}).json()
    assert read_places(page.ledger) == {}
    assert look["form"]["seed"] == 2


def test_an_undo_brings_back_form_and_places(page):
    first = page.client.get("/api/quilt").json()
    swapped = send(page, "swap", {"one": [1, 1], "other": [2, 2]}).json()
    send(page, "anew", {})
    send(page, "form", {"sashing": "1 in"})
    back = send(page, "restore", {"form": swapped["form"], "places": swapped["wanted"]}).json()
    assert by_place(back) == by_place(swapped)
    assert back["form"] == first["form"]
    for words in ({}, {"form": 3, "places": {}}, {"form": {"block": 3}, "places": {}},
                  {"form": {}, "places": {"a.jpg": [0, 1]}}):  # fmt: skip
        assert send(page, "restore", words).status_code == 400
    assert page.client.get("/api/quilt").json() == back


@pytest.mark.parametrize(
    "words", [{}, {"one": [1, 1]}, {"one": [1, 1], "other": [9, 9]}, {"one": "x", "other": [1, 1]},
              {"one": [0, 1], "other": [1, 1]}, {"one": [True, 1], "other": [1, 1]}],
)  # fmt: skip
def test_places_that_are_not_there_change_nothing(page, words):
    assert send(page, "swap", words).status_code == 400
    assert read_places(page.ledger) == {}


def test_the_form_is_heeded_and_kept(page):
    form = {"block": "12 in", "sashing": "2 in", "fabrics": [["navy", "#203050"], ["", "#ffffff"]]}
    look = send(page, "form", form).json()
    assert look["trouble"] == ""
    assert look["fabrics"] == [["navy", "#203050"], ["fabric 2", "#ffffff"]]
    assert "Blocks finish 12 in" in look["blocks"]
    assert read_form(page.ledger).sashing == "2 in"


@pytest.mark.parametrize(
    "form", [{"block": "huge"}, {"colour": "red"}, {"rows": -1}, {"rows": "3"}, {"rows": True},
             {"fabrics": [["a", "red"]]}, {"fabrics": "a"}, {"size": "50 in"},
             {"block": "x" * 81}, {"fabrics": [["a", "#ffffff"]] * 13}, {"scheme": "own"},
             {"binding_fabric": ["a"]}, {"outer_sash": 1}, {"bed": "hammock"}, {"block": "9" * 79},
             {"shrinkage": "1e9999999"}, {"shrinkage": "-3"}, {"shrinkage": "100"}, {"drop": 3},
             {"bed": "twin", "size": "50 x 60 in"}, {"bed": "twin", "drop": "far"}],
)  # fmt: skip
def test_what_the_form_cannot_say_is_refused(page, form):
    answer = send(page, "form", form)
    assert answer.status_code == 400
    assert answer.json()["error"]
    assert read_form(page.ledger) == QuiltForm()


@pytest.mark.parametrize("sign", ['"', "\u2033", "\u201d"])
def test_an_inch_sign_behind_the_last_length_holds_for_all(sign):
    options = QuiltForm(strips=f"1, 1 1/2{sign}", size=f"50 x 60{sign}").to_options("cm")
    assert options.strips_mm == (MM_PER_INCH, MM_PER_INCH * 3 / 2)
    assert options.wish_mm == (50 * MM_PER_INCH, 60 * MM_PER_INCH)


def test_words_of_the_form_become_lengths():
    options = QuiltForm(strips="1, 1 1/2 in", size="50 x 60", rows=3).to_options("in")
    assert options.strips_mm == (MM_PER_INCH, MM_PER_INCH * 3 / 2)
    assert options.wish_mm == (50 * MM_PER_INCH, 60 * MM_PER_INCH)
    assert (options.rows, options.columns) == (3, None)
    with pytest.raises(UsageError, match="Borders: 'wide'"):
        QuiltForm(borders="wide").to_options("in")


def test_everything_that_the_command_takes_can_be_wished_on_the_page():
    # a field of the form for each option of 'motiffit plan', but for those that concern the command
    # and --leave-out, which the garment's own page offers
    signature = inspect.signature(plan)
    not_wishes = {"context", "folder", "units", "separator", "json", "quiet", "part", "leave_out"}
    of_the_form = {"clockwise": "direction", "quilt_size": "size"}
    asked = {of_the_form.get(name, name) for name in signature.parameters} - not_wishes
    parts = {"sash_fabric", "border_fabric", "binding_fabric", "plain_fabric"}
    assert {part.name for part in fields(QuiltForm)} == asked | parts


def test_garments_without_a_motif_can_be_left_out(page):
    page.ledger.write(
        "d.jpg",
        replace(make_sizing(Case(photo="d.jpg")), motifs=(), outcome="no-motif"),
        photo_hash=page.ledger.hash_of("d.jpg"),
        settings=Settings(),
    )
    assert "d.jpg" in by_place(page.client.get("/api/quilt").json()).values()
    look = send(page, "form", {"motifs_only": True}).json()
    assert "d.jpg" not in by_place(look).values()
    assert "d.jpg" in [left["photo"] for left in look["left_out"]]


def test_a_motif_too_large_gives_no_block_for_the_reason_that_the_sheets_name(page):
    far = make_message("far-from-reference")
    large = replace(
        make_sizing(Case(photo="d.jpg", motifs_mm=((200.0, -180.0, 300.0, 72.0),))), outcome="check"
    )
    page.ledger.write(
        "d.jpg",
        replace(large, messages=(far, *large.messages)),
        photo_hash=page.ledger.hash_of("d.jpg"),
        settings=Settings(),
    )
    refused = make_refused(photo="c.jpg")
    page.ledger.write(
        "c.jpg", refused, photo_hash=page.ledger.hash_of("c.jpg"), settings=Settings()
    )
    reasons = {
        left["photo"]: left["reason"] for left in page.client.get("/api/quilt").json()["left_out"]
    }
    assert reasons["d.jpg"] == "The largest square of the set would cut into the motif."
    # what the page can do about it, the sheets cannot
    assert "say how large it is" in reasons["c.jpg"]


@pytest.mark.parametrize("units", ["in", "cm"])
def test_the_form_asks_what_the_command_would(units):
    form = QuiltForm.from_dict(FORM)
    wishes = Wishes(
        lengths={(option, f"--{name}"): FORM[name] for name, option in LENGTHS.items()},
        choices={"construction": "courthouse", "first_side": "left", "is_clockwise": False,
                 "pressing": "open", "scheme": "own", "turning": "same", "arrangement": "rows",
                 "rows": 4, "columns": 5, "has_outer_sash": True, "has_corner_squares": True,
                 "shop": "quarter-yard", "interfacing": "to-size", "seed": 7},
        strips="1, 1 1/2 in", borders="2; 4 in", fabrics="red:#ff0000, blue:#0000ff",
        parts=["sash=red:#ff0000", "border=red:#ff0000", "binding=ink:#101010",
               "plain=sky:#aaccff"],
        quilt_size=None, bed="twin", drop="14 in", shrinkage=4.5,
    )  # fmt: skip
    assert form.to_options(units) == make_options(wishes, units)


LENGTHS = {"block": "block_mm", "seam_take_up": "seam_take_up_mm", "sashing": "sash_mm",
           "cloth_width": "cloth_width_mm", "straightening": "straightening_mm",
           "interfacing_width": "interfacing_width_mm", "backing_width": "backing_width_mm",
           "binding_width": "binding_cut_mm"}  # fmt: skip
FORM = {
    "block": "9 in", "seam_take_up": "1/32 in", "sashing": "1 1/2", "cloth_width": "42",
    "straightening": "3", "interfacing_width": "36 in", "backing_width": "108 in",
    "binding_width": "2 1/4 in", "strips": "1, 1 1/2 in", "borders": "2; 4 in",
    "construction": "courthouse", "first_side": "left", "direction": "counter-clockwise",
    "pressing": "open", "scheme": "own", "arrangement": "rows", "rows": 4, "columns": 5,
    "outer_sash": True, "corner_squares": True, "shop": "quarter-yard", "interfacing": "to-size",
    "seed": 7, "fabrics": [["red", "#ff0000"], ["blue", "#0000ff"]],
    "sash_fabric": ["red", "#ff0000"], "border_fabric": ["red", "#ff0000"],
    "binding_fabric": ["ink", "#101010"], "plain_fabric": ["sky", "#aaccff"],
    "bed": "twin", "drop": "14 in", "shrinkage": "4.5",
}  # fmt: skip


@pytest.mark.parametrize("units", ["in", "cm"])
def test_fields_left_empty_show_what_is_taken(units):
    usual = usual_words(units)
    named = {
        name: usual[name] for name in LENGTHS if not usual[name].startswith(("none", "largest"))
    }
    assert QuiltForm(**named).to_options(units) == default_options(units)
    assert QuiltForm().to_options(units) == default_options(units)
    assert QuiltForm(shrinkage=usual["shrinkage"]).to_options(units) == default_options(units)
    assert QuiltForm(bed="queen", drop=usual["drop"]).to_options("in").wish_mm is not None


def test_wishes_that_cannot_be_met_are_said_and_can_be_taken_back(page):
    look = send(page, "form", {"block": "1 in"}).json()
    assert look["trouble"]
    assert look["form"]["block"] == "1 in"
    assert send(page, "form", {}).json()["trouble"] == ""


@pytest.mark.parametrize(
    ("name", "start"),
    [
        ("sheets.pdf", b"%PDF"),
        ("quilt.jpg", b"\xff\xd8"),
        ("cutting.csv", b""),
        ("plan.json", b"{"),
    ],
)
def test_files_of_the_plan_can_be_taken_away(page, name, start):
    answer = page.client.get(f"/quilt/file/{name}")
    assert answer.status_code == 200
    assert answer.content.startswith(start)
    assert answer.headers["content-disposition"].startswith("attachment")
    assert answer.content == (page.ledger.home / "plan" / name).read_bytes()


def test_files_that_another_program_changed_or_took_away_are_written_anew(page):
    first = page.client.get("/quilt/file/layout.csv").content
    for spoil in (lambda path: path.unlink(), lambda path: path.write_text("another plan")):
        for name in ("layout.csv", "plan.json"):
            spoil(page.ledger.home / "plan" / name)
        assert page.client.get("/quilt/file/layout.csv").content == first


@pytest.mark.parametrize("name", ["", "..%2f..%2fa.jpg", "records", "other.pdf", "a.jpg"])
def test_no_other_file_can(page, name):
    assert page.client.get(f"/quilt/file/{name}").status_code == 404


def test_an_empty_pile_has_no_quilt_and_says_so(tmp_path):
    page = open_page(tmp_path)
    assert "No photo was measured" in page.client.get("/api/quilt").json()["trouble"]
    assert page.client.get("/api/sizes").status_code == 400
    assert page.client.get("/quilt/file/sheets.pdf").status_code == 400


def test_sets_of_sizes_are_compared_and_one_is_proposed(page):
    compared = page.client.get("/api/sizes").json()
    assert compared["garments"] == 4
    assert sum(one["is_proposed"] for one in compared["sets"]) == 1
    assert [one["name"] for one in compared["sets"] if one["is_used"]] == ["as now"]
    for one in compared["sets"]:
        assert one["fit"] + one["check"] + one["cut"] == 4
        assert len(one["fails"]) == one["cut"]


def test_the_garment_that_alone_needs_a_large_size_is_left_out_as_by_the_command(tmp_path):
    large = 250.0
    sides = [70.0, 72.0, 74.0, 76.0, 78.0, 80.0, 82.0, 84.0, 86.0, 88.0, large]
    ledger = Ledger.open(tmp_path)
    for number, side in enumerate(sides):
        name = f"{number}.jpg"
        (tmp_path / name).write_bytes(name.encode())
        sizing = make_sizing(Case(photo=name))
        motif = replace(sizing.motifs[0], width_mm=side, height_mm=side)
        ledger.write(
            name,
            replace(sizing, motifs=(motif,)),
            photo_hash=ledger.hash_of(name),
            settings=Settings(),
        )
    page = open_page(tmp_path)
    compared = page.client.get("/api/sizes").json()
    command = chosen(tmp_path)
    assert compared["outsize"]["garments"] == [
        {"photo": "10.jpg", "key": page.key("10.jpg"), "least": "10 3/16 in"}
    ]
    [proposed] = [one for one in compared["sets"] if one["is_proposed"]]
    assert proposed["sizes_mm"] == command["proposed_mm"] == command["outsize"]["without_mm"]
    assert [garment["photo"] for garment in proposed["fails"]] == ["10.jpg"]
    assert proposed["fit"] == len(sides) - 1
    for_all = compared["sets"][-1]
    assert for_all["sizes_mm"] == command["outsize"]["with_mm"]
    assert (for_all["sizes"], for_all["cut"]) == (compared["outsize"]["for_all"], 0)
    page.say("10.jpg", {"keep": False})
    compared = page.client.get("/api/sizes").json()
    assert compared["outsize"] is None
    [proposed] = [one for one in compared["sets"] if one["is_proposed"]]
    assert proposed["sizes_mm"] == chosen(tmp_path)["proposed_mm"]


def chosen(folder):
    """What the command answers for the same pile."""
    return json.loads(CliRunner().invoke(app, ["choose", str(folder), "--json"]).stdout)


def test_a_set_of_ones_own_is_compared_too(page):
    compared = page.client.get("/api/sizes", params={"own": "4 1/2, 8 in"}).json()
    own = next(one for one in compared["sets"] if one["name"] == "your own")
    assert own["sizes"] == "4 1/2, 8 in"
    assert own["sizes_mm"] == pytest.approx([114.3, 203.2])
    for words in ("wide", "0 in", "4000 in", ", ".join(map(str, range(1, 60)))):
        assert page.client.get("/api/sizes", params={"own": words}).status_code == 400

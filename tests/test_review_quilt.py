"""The quilt's page: its form, swapped blocks, its files, and the comparison of size sets."""

import pytest
from records import Case, make_sizing
from reviewing import OWN, open_page

from motiffit.errors import UsageError
from motiffit.ledger import Ledger
from motiffit.planning import read_places
from motiffit.review.form import QuiltForm, read_form
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
    # an undo puts back what stood there, here: nothing was pinned
    assert by_place(send(page, "places", {"places": {}}).json()) == before


def test_laying_out_anew_forgets_places(page):
    send(page, "swap", {"one": [1, 1], "other": [1, 2]})
    look = send(page, "anew", {}).json()
    assert read_places(page.ledger) == {}
    assert look["form"]["seed"] == 2


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
             {"scheme": "own"}, {"fabrics": [["a", "red"]]}, {"fabrics": "a"}, {"size": "50 in"},
             {"block": "x" * 81}, {"fabrics": [["a", "#ffffff"]] * 9}],
)  # fmt: skip
def test_what_the_form_cannot_say_is_refused(page, form):
    answer = send(page, "form", form)
    assert answer.status_code == 400
    assert answer.json()["error"]
    assert read_form(page.ledger) == QuiltForm()


def test_words_of_the_form_become_lengths():
    options = QuiltForm(strips="1, 1 1/2 in", size="50 x 60", rows=3).to_options("in")
    assert options.strips_mm == (MM_PER_INCH, MM_PER_INCH * 3 / 2)
    assert options.wish_mm == (50 * MM_PER_INCH, 60 * MM_PER_INCH)
    assert (options.rows, options.columns) == (3, None)
    with pytest.raises(UsageError, match="Borders: 'wide'"):
        QuiltForm(borders="wide").to_options("in")


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
    for one in compared["sets"]:
        assert one["fit"] + one["check"] + one["cut"] == 4
        assert len(one["fails"]) == one["cut"]

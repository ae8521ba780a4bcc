"""The page's answers: the program's own numbers, a person's words kept, two windows at once."""

import json
import shutil
import threading
import time
from io import BytesIO
from pathlib import Path
from string import Formatter

import numpy as np
import pytest
from PIL import Image
from records import Case, make_sizing
from review_jobs import add_up, die, fail, fail_at, fill_memory, hang, miss, refuse
from reviewing import OWN, make_photos, open_page, stranger
from typer.testing import CliRunner

from motiffit.cli.app import app
from motiffit.errors import Refusal
from motiffit.ledger import Ledger
from motiffit.measure.geometry import rotate_vectors
from motiffit.messages import MESSAGES, text_of
from motiffit.pile import out_of_date, pile_settings
from motiffit.record import Message
from motiffit.resizing import resize
from motiffit.review.sheet import _certainty, _clearance
from motiffit.review.words import page_text
from motiffit.review.workshop import Workshop
from motiffit.settings import Settings
from motiffit.show.words import outcome_words
from motiffit.sizing import size_photo
from motiffit.units import format_length

SEED = 11
DIGIT_MM = 0.01  # to which the page's points are rounded
PX_MM = 0.8  # what a pixel of the screen shows when a shirt fills it
BACK_MM = 0.05  # a point sent to the page and back: its digits, seen at a slant


@pytest.fixture(scope="module")
def pile(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pile") / "photos"
    folder.mkdir()
    make_photos(folder, "shirt.png", "second.png", seed=SEED)
    page = open_page(folder)
    for photo in ("shirt.png", "second.png"):
        page.review.tidings.size(photo)
    (folder / "blank.png").write_bytes(_blank())
    page.review.tidings.size("blank.png")
    return folder


@pytest.fixture
def page(tmp_path, pile):
    return open_page(Path(shutil.copytree(pile, tmp_path / "photos")))


def _blank():
    picture = BytesIO()
    Image.new("RGB", (640, 480), "grey").save(picture, "PNG")
    return picture.getvalue()


def box_of(look, *, grown=0.0):
    """The motif's box as the page would send it, larger on every side."""
    motif = look["sheet"]["motif"]
    (x, y), w, h = motif["middle"], motif["width"] / 2 + grown, motif["height"] / 2 + grown
    flat = np.array([[-w, -h], [w, -h], [w, h], [-w, h]])
    corners = np.add(rotate_vectors(flat, motif["angle"]), (x, y)).tolist()
    return {"corners": corners, "px_mm": PX_MM}


# -- the answer is the program's ----------------------------------------------------------------


def test_what_is_shown_is_what_the_command_says(page):
    look = page.look("shirt.png")
    sizing = size_photo(page.ledger.path_of("shirt.png"))
    assert look["sheet"]["window"]["finished"] == sizing.window.finished
    assert look["sheet"]["words"] == outcome_words(sizing)
    for side, shown in look["sheet"]["clearance"].items():
        assert shown["mm"] == pytest.approx(getattr(sizing.window.clearance_mm, side))
    sides = np.linalg.norm(np.diff(look["sheet"]["window"]["seam_corners"], axis=0), axis=1)
    assert sides == pytest.approx([sizing.window.finished_mm] * 3, abs=2 * DIGIT_MM)


def test_the_picture_is_upright_and_at_scale(page):
    look = page.look("shirt.png")
    frame = look["frame"]
    xs, ys = np.array(frame["outline"]).T
    assert frame["left"] <= xs.min()
    assert xs.max() <= frame["left"] + frame["width"]
    assert frame["top"] <= ys.min()
    assert ys.max() <= frame["top"] + frame["height"]
    content = page.client.get(f"/picture/{page.key('shirt.png')}/flat.jpg").content
    with Image.open(BytesIO(content)) as image:
        scales = frame["width"] / image.width, frame["height"] / image.height
    assert scales[0] == pytest.approx(scales[1])


def test_a_drag_is_answered_as_the_command_would_and_changes_nothing(page):
    look = page.look("shirt.png")
    before = page.ledger.said("shirt.png")
    answer = page.sent("shirt.png", {"box": box_of(look, grown=10.0)}).json()
    assert page.ledger.said("shirt.png") == before
    assert answer["motif"]["width"] == pytest.approx(
        look["sheet"]["motif"]["width"] + 20, abs=BACK_MM
    )
    page.say("shirt.png", {"box": box_of(look, grown=10.0)})
    said = page.ledger.said("shirt.png")
    sizing = size_photo(page.ledger.path_of("shirt.png"), said.heeded(Settings()))
    assert answer["window"]["finished_mm"] == sizing.window.finished_mm
    for side, shown in answer["clearance"].items():
        assert shown["mm"] == pytest.approx(getattr(sizing.window.clearance_mm, side), abs=1e-6)


def test_a_square_put_by_hand_lies_where_it_was_put(page):
    look = page.look("shirt.png")
    x, y = look["sheet"]["window"]["middle"]
    answer = page.say("shirt.png", {"place": {"middle": [x + 7, y - 4], "angle": 6}}).json()
    window = answer["sheet"]["window"]
    assert window["middle"] == pytest.approx([x + 7, y - 4], abs=BACK_MM)
    assert window["angle"] == pytest.approx(6)
    assert answer["said"]["has_place"]
    record = page.ledger.entry("shirt.png").sizing
    assert record.window.finished_mm == window["finished_mm"]
    again = size_photo(page.ledger.path_of("shirt.png"), record.settings)
    assert again.window == record.window


def test_a_chosen_size_leaves_the_others_to_choose_from(page):
    answer = page.say("shirt.png", {"size_mm": 228.6}).json()
    sizes = answer["sheet"]["sizes"]
    assert [size["words"] for size in sizes] == [f"{n} in" for n in range(3, 10)]
    assert [size["words"] for size in sizes if size["is_shown"]] == ["9 in"]
    own = {size.finished: size for size in size_photo(page.ledger.path_of("shirt.png")).sizes}
    for size in sizes:
        judged = own[size["words"]]
        states = {"cuts": judged.least_clearance_mm < 0, "clear": judged.clears}
        assert states.get(size["state"], not any(states.values()))
    assert answer["sheet"]["window"]["finished"] == "9 in"


def test_a_square_too_small_is_called_so_on_both_views(page):
    sheet = page.say("shirt.png", {"size_mm": 76.2}).json()["sheet"]
    assert (sheet["outcome"], sheet["words"], sheet["certainty"]) == ("cuts", "Do not cut", "")
    own = size_photo(page.ledger.path_of("shirt.png")).window.finished
    assert sheet["messages"][0]["text"] == (
        f"3 in, the size that you chose, is too small for the motif: {own} would do."
    )
    tiles = page.client.get("/api/pile").json()["photos"]
    assert {tile["photo"]: tile["outcome"] for tile in tiles}["shirt.png"] == "cuts"


def test_no_motif_is_heeded(page):
    answer = page.say("shirt.png", {"no_motif": True}).json()
    assert answer["sheet"]["outcome"] == "no-motif"
    assert answer["sheet"]["clearance"] is None
    largest = answer["sheet"]["window"]["finished_mm"] if answer["sheet"]["window"] else 0
    for size in answer["sheet"]["sizes"]:
        too_large = ("close", "too little cloth")
        assert (size["state"], size["why"]) == (
            ("clear", "") if size["mm"] <= largest else too_large
        )
    assert page.ledger.entry("shirt.png").sizing.outcome == "no-motif"


def test_a_photo_that_cannot_be_measured_says_why_and_takes_notes(page):
    look = page.look("blank.png")
    assert look["sheet"] is None
    assert "reference square" in look["reason"]
    assert "--" not in look["reason"]
    answer = page.say("blank.png", {"note": "take again"})
    assert answer.status_code == 200
    assert page.ledger.said("blank.png").note == "take again"
    assert page.sent("blank.png", {"no_motif": True}).status_code == 400


def test_a_photo_that_cannot_be_measured_is_shown_as_it_is(page):
    content = page.client.get(f"/picture/{page.key('blank.png')}/plain.jpg").content
    with Image.open(BytesIO(content)) as image:
        assert image.size == (640, 480)
    assert page.client.get(f"/picture/{page.key('blank.png')}/flat.jpg").status_code == 404
    page.ledger.path_of("broken.jpg").write_bytes(b"no photo at all")
    assert page.client.get(f"/picture/{page.key('broken.jpg')}/plain.jpg").status_code == 415


def test_a_box_drawn_by_hand_is_held_for_as_exact_as_a_hand_at_that_scale(page):
    look = page.look("shirt.png")
    told = [
        page.sent("shirt.png", {"box": {**box_of(look, grown=4.0), "px_mm": scale}}).json()
        for scale in (0.05, 2.0)
    ]
    near, far = (page.ledger.said("shirt.png") for _ in told)
    assert near == far, "a try keeps nothing"
    assert told[0]["motif"]["words"] == told[1]["motif"]["words"]
    page.say("shirt.png", {"box": box_of(look, grown=4.0)})
    said = page.ledger.said("shirt.png")
    assert said.outline_sd_mm == pytest.approx(np.hypot(0.5, PX_MM))
    record = page.ledger.entry("shirt.png").sizing
    assert record.settings.outline_sd_mm == said.outline_sd_mm
    assert min(vars_of(record.motifs[0].sd_edges_mm)) >= said.outline_sd_mm
    page.say("shirt.png", {"box": None})
    assert page.ledger.said("shirt.png").outline_sd_mm is None


def vars_of(sides):
    return [getattr(sides, name) for name in ("top", "right", "bottom", "left")]


# -- how large the square is --------------------------------------------------------------------


@pytest.fixture
def sticky(tmp_path):
    """A pile of one photo with a plain square in it, and one without any."""
    samples = Path(__file__).parent.parent / "sample_images"
    for name in ("sticky-note-boat.jpg", "no-card-moon.jpg"):
        shutil.copy(samples / name, tmp_path)
    page = open_page(tmp_path)
    for name in page.ledger.photos():
        page.review.tidings.size(name)
    return page


STICKY = "sticky-note-boat.jpg"


def test_a_plain_square_is_measured_from_once_its_size_is_said(sticky):
    look = sticky.look(STICKY)
    assert look["sheet"] is None
    assert look["waits_for_side"]
    assert "say how large it is" in look["reason"]
    before = sticky.ledger.entry(STICKY)
    answer = sticky.say(STICKY, {"side": "3 in"}).json()
    sizing = size_photo(sticky.ledger.path_of(STICKY), Settings(side_mm=76.2))
    assert answer["sheet"]["window"]["finished"] == sizing.window.finished
    assert answer["sheet"]["square"] == "Square: 3 in, as you said"
    assert (answer["said"]["side"], answer["before"]) == ("3 in", {"side_mm": None})
    assert not answer["waits_for_side"]
    entry = sticky.ledger.entry(STICKY)
    assert entry.is_current(before.photo_hash, Settings())
    assert entry.sizing.window == sizing.window
    tile = next(t for t in sticky.client.get("/api/pile").json()["photos"] if t["photo"] == STICKY)
    assert tile["finished"] == sizing.window.finished

    twice = sticky.say(STICKY, {"side": "6 in"}).json()
    sides = [look["sheet"]["motif"]["width"] for look in (answer, twice)]
    assert sides[1] == pytest.approx(2 * sides[0], rel=0.02)  # all but the cloth's height

    undone = sticky.say(STICKY, {"restore": {"side_mm": None}}).json()
    assert undone["sheet"] is None
    assert sticky.ledger.entry(STICKY).sizing.outcome == "refused"
    assert sticky.ledger.entry(STICKY).is_current(before.photo_hash, Settings())


def test_a_size_does_not_help_where_there_is_no_square(sticky):
    answer = sticky.say("no-card-moon.jpg", {"side": "3 in"}).json()
    assert answer["sheet"] is None
    assert sticky.ledger.entry("no-card-moon.jpg").sizing.settings.side_mm == 76.2


@pytest.mark.parametrize(
    "side", ["three", "0", "1/16 in", "9000 in", "9" * 30, "9" * 400, 3, ["3"]]
)
def test_what_is_no_size_of_a_square_changes_nothing(sticky, side):
    assert sticky.say(STICKY, {"side": side}).status_code == 400
    assert sticky.ledger.said(STICKY).side_mm is None
    assert sticky.look(STICKY)["waits_for_side"]


def test_one_photos_square_says_nothing_of_the_pile(sticky):
    sticky.say(STICKY, {"side": "3 in"})
    (sticky.ledger.folder / "no-card-moon.jpg").unlink()
    assert pile_settings(sticky.ledger) is None


def test_another_units_pile_is_shown_in_its_units(tmp_path, pile):
    folder = Path(shutil.copytree(pile, tmp_path / "photos"))
    page = open_page(folder, Settings(units="cm", sizes_mm=(75.0, 100.0, 150.0, 225.0)))
    look = page.look("shirt.png")
    assert look["units"] == "cm"
    assert look["sheet"]["window"]["finished"].endswith(" cm")
    assert all(side["words"].endswith(" cm") for side in look["sheet"]["clearance"].values())


# -- a person's words ---------------------------------------------------------------------------


def test_undo_brings_back_what_was_there(page):
    page.say("shirt.png", {"pick": 1})
    before = page.look("shirt.png")
    first = page.say("shirt.png", {"box": box_of(before, grown=5.0)}).json()
    second = page.say("shirt.png", {"size_mm": 228.6, "zip": True}).json()
    assert page.say("shirt.png", {"restore": second["before"]}).json()["sheet"] == first["sheet"]
    undone = page.say("shirt.png", {"restore": first["before"]}).json()
    assert undone["sheet"] == before["sheet"]
    assert undone["said"]["pick"] == 1


def test_acceptance_ends_when_the_answer_changes(page):
    assert page.say("shirt.png", {}, accepts=True).json()["is_accepted"]
    assert page.ledger.entry("shirt.png").is_accepted
    assert page.say("shirt.png", {"note": "soft"}).json()["is_accepted"]
    assert not page.say("shirt.png", {"size_mm": 228.6}).json()["is_accepted"]
    assert not page.ledger.entry("shirt.png").is_accepted


def test_accepting_with_a_change_accepts_the_changed_answer(page):
    answer = page.say("shirt.png", {"size_mm": 228.6}, accepts=True).json()
    assert answer["is_accepted"]
    assert not page.say("shirt.png", {}, accepts=False).json()["is_accepted"]


def test_two_windows_lose_no_word(page):
    seen = page.look("shirt.png")["said"]["revision"]
    page.say("shirt.png", {"note": "from one"}, revision=seen)
    answer = page.say("shirt.png", {"zip": True}, revision=seen).json()
    assert answer["meanwhile"] == ["note"]
    assert (answer["said"]["note"], answer["said"]["zip"]) == ("from one", True)
    later = page.say("shirt.png", {"note": "from two"}, revision=answer["said"]["revision"]).json()
    assert later["meanwhile"] == []
    assert page.ledger.said("shirt.png").note == "from two"


def test_a_run_over_the_pile_and_the_page_agree(page):
    # the pile sized the photo before the correction came in; its record must not stand after
    look = page.look("shirt.png")
    old = page.ledger.entry("shirt.png")
    page.say("shirt.png", {"box": box_of(look, grown=12.0)})
    assert not page.ledger.write(
        "shirt.png", old.sizing, photo_hash=old.photo_hash, settings=Settings()
    )
    page.review.tidings.size("shirt.png")
    entry = page.ledger.entry("shirt.png")
    assert entry.sizing.settings.outline_px == entry.said.outline_px
    assert entry.sizing.motifs[0].width_mm == pytest.approx(
        look["sheet"]["motif"]["width"] + 24, abs=BACK_MM
    )


def test_many_windows_at_once_lose_no_word(page):
    words = ["note", "garment", "zip", "snaps"]
    key = page.key("shirt.png")
    page.look("shirt.png")

    def speak(field):
        client = stranger(page.review)
        client.get(f"/enter/{page.links.gate.new_link()}")
        for count in range(5):
            value = str(count) if field in ("note", "garment") else count % 2 == 0
            answer = client.post(
                f"/api/garments/{key}/say",
                json={"changes": {field: value}, "revision": 0},
                headers=OWN,
            )
            assert answer.status_code == 200

    threads = [threading.Thread(target=speak, args=(field,)) for field in words]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    said = page.ledger.said("shirt.png")
    assert (said.revision, said.note, said.garment, said.zip, said.snaps) == (20, "4", "4", 1, 1)


def test_pictures_follow_a_correction(page):
    small = page.ledger.picture_of("shirt.png", small=True)
    before = small.read_bytes()
    page.say("shirt.png", {"size_mm": 228.6})
    assert small.read_bytes() != before
    answer = page.client.get(f"/picture/{page.key('shirt.png')}/small.jpg")
    assert answer.content == small.read_bytes()


def test_no_picture_tells_where_it_was_taken(page):
    for which in ("small", "flat", "plain"):
        content = page.client.get(f"/picture/{page.key('shirt.png')}/{which}.jpg").content
        with Image.open(BytesIO(content)) as image:
            assert not image.getexif()


# -- the sizes ----------------------------------------------------------------------------------


def use(page, sizes_mm):
    return page.client.post("/api/sizes/use", json={"sizes_mm": sizes_mm}, headers=OWN)


def records(page):
    return {photo: page.ledger.entry(photo).sizing for photo in page.ledger.photos()}


def test_other_sizes_are_put_to_use_and_taken_back(page):
    page.say("second.png", {"no_motif": True})
    page.say("shirt.png", {}, accepts=True)
    before, opened = records(page), page.workshop.calls.count("open_photo")
    told = use(page, [190.5, 241.3]).json()
    assert told["words"] == "7 1/2, 9 1/2 in"
    assert told["before_words"] == "3, 4, 5, 6, 7, 8, 9 in"
    assert page.workshop.calls.count("open_photo") == opened, "no photo was measured again"
    wanted = Settings(sizes_mm=(190.5, 241.3))
    for photo in ("shirt.png", "second.png"):
        entry = page.ledger.entry(photo)
        assert entry.is_current(page.ledger.hash_of(photo), wanted)
        again = size_photo(page.ledger.path_of(photo), entry.said.heeded(wanted))
        assert entry.sizing.outcome == again.outcome
        assert (entry.sizing.window and entry.sizing.window.finished) == (
            again.window and again.window.finished
        )
    assert told["changed"] == 2
    assert not page.ledger.entry("shirt.png").is_accepted
    assert page.look("shirt.png")["sheet"]["window"]["finished"] == "7 1/2 in"
    assert [s["words"] for s in page.look("shirt.png")["sheet"]["sizes"]] == [
        "7 1/2 in",
        "9 1/2 in",
    ]
    assert page.client.get("/api/pile").json()["sizes_in_use"] == "7 1/2, 9 1/2 in"
    assert pile_settings(page.ledger) == wanted

    assert not out_of_date(page.ledger, wanted, page.ledger.photos())
    answer = CliRunner().invoke(app, ["pile", str(page.ledger.folder)])
    assert answer.stderr == "motiffit: as this pile was asked before: sizes 7 1/2, 9 1/2 in\n"
    assert pile_settings(page.ledger) == wanted, "'motiffit pile' keeps to the choice"

    back = use(page, told["before_mm"]).json()
    assert back["before_words"] == "7 1/2, 9 1/2 in"
    assert page.ledger.entry("shirt.png").is_accepted, "the answer that was accepted is back"
    for photo, record in records(page).items():
        assert record.window is None or record.window.finished == before[photo].window.finished


def test_cut_short_among_the_photos_the_new_sizes_hold_and_the_rest_is_measured(page, monkeypatch):
    answered = []

    def resize_one(sizing, settings):
        if answered:
            raise RuntimeError
        answered.append(sizing.photo)
        return resize(sizing, settings)

    monkeypatch.setattr("motiffit.review.size_choice.resize", resize_one)
    assert use(page, [190.5, 241.3]).status_code == 500
    wanted = Settings(sizes_mm=(190.5, 241.3))
    assert pile_settings(page.ledger) == wanted, "a new start takes the new sizes"
    again = open_page(page.ledger.folder, wanted)
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline:
        again.client.get("/api/pile")
        if all(page.ledger.entry(p).sizing.settings == wanted for p in page.ledger.photos()):
            break
        time.sleep(0.1)
    assert not out_of_date(page.ledger, wanted, page.ledger.photos())


def test_a_size_that_a_person_chose_stands_whatever_the_set(page):
    page.say("shirt.png", {"size_mm": 228.6})
    use(page, [100.0])
    assert page.ledger.entry("shirt.png").sizing.window.finished == "9 in"
    assert page.look("shirt.png")["sheet"]["sizes"][0]["words"] == "3 15/16 in"


@pytest.mark.parametrize(
    "sizes", [[], None, "3 in", [0], [-3.0], [100.0, 90.0], [90.0, 90.0], ["3"], [True], [1e9],
              [10**400], [float("nan")], list(range(1, 90))],
)  # fmt: skip
def test_what_is_no_set_of_sizes_changes_nothing(page, sizes):
    before = records(page)
    answer = page.client.post(
        "/api/sizes/use",
        content=json.dumps({"sizes_mm": sizes}),
        headers={**OWN, "Content-Type": "application/json"},
    )
    assert answer.status_code == 400
    assert records(page) == before
    assert page.client.get("/api/pile").json()["sizes_in_use"] == "3, 4, 5, 6, 7, 8, 9 in"


def test_sizes_wait_while_photos_are_measured(page, monkeypatch):
    monkeypatch.setattr("motiffit.review.size_choice._BRIEF_WAIT_S", 0.05)
    before = records(page)
    with page.ledger.running():
        answer = use(page, [100.0])
    assert answer.status_code == 400
    assert "being measured" in answer.json()["error"]
    assert records(page) == before


MOTIF_RIGHT_MM = 239.0  # of the usual case: a motif 78 mm wide about x = 200 mm
ALLOWANCE_MM = 6.35


@pytest.mark.parametrize(("edge_mm", "state"), [(244.0, "cuts"), (246.0, "close"), (320.0, None)])
def test_a_side_without_cloth_is_not_shown_as_all_fine(edge_mm, state):
    """A piece sewn to the cloth's edge has its seam one allowance inside that edge."""
    assert (edge_mm - ALLOWANCE_MM < MOTIF_RIGHT_MM) == (state == "cuts")
    outline = ((80.0, -330.0), (edge_mm, -330.0), (edge_mm, 40.0), (80.0, 40.0))
    sizing = make_sizing(Case(garment_mm=outline))
    sides = _clearance(sizing.window, sizing.settings)
    missing = sides["right"]["cloth"]
    assert {sides[name]["cloth"] for name in ("top", "bottom", "left")} == {None}
    assert sides["right"]["state"] == "clear"
    assert (missing and missing["state"]) == state
    if missing:
        assert missing["words"] == format_length(sizing.window.cloth_short_mm.right, "in")
    assert bool(_certainty(sizing)) == (state != "cuts")


# -- the pile -----------------------------------------------------------------------------------


def test_the_listing_ranks_what_needs_an_eye_first(page):
    page.say("second.png", {}, accepts=True)
    listing = page.client.get("/api/pile").json()
    ranked = sorted(listing["photos"], key=lambda photo: photo["rank"])
    needs = [photo["needs_an_eye"] for photo in ranked]
    assert needs == sorted(needs, reverse=True)
    assert ranked[0]["photo"] == "blank.png"
    assert ranked[0]["needs_an_eye"]
    assert (ranked[-1]["photo"], ranked[-1]["is_accepted"]) == ("second.png", True)


def test_a_photo_that_comes_in_is_sized(page):
    content = page.ledger.path_of("shirt.png").read_bytes()
    answer = page.add("third.png", content)
    assert answer.status_code == 200
    assert answer.json()["finished"] == page.look("shirt.png")["sheet"]["window"]["finished"]
    assert page.ledger.path_of("third.png").read_bytes() == content
    assert not list(page.ledger.home.glob(".motiffit-*.part"))


def test_a_photo_that_vanishes_while_it_is_measured_is_missed(page, monkeypatch):
    size = page.review.tidings.size

    def size_and_lose(photo):
        size(photo)
        page.ledger.path_of(photo).unlink()

    content = page.ledger.path_of("shirt.png").read_bytes()
    monkeypatch.setattr("motiffit.review.tidings.Tidings.size", lambda _, p: size_and_lose(p))
    assert page.add("third.png", content).status_code == 404


def test_photos_put_into_the_folder_are_sized_without_being_asked(page):
    shutil.copy(page.ledger.path_of("shirt.png"), page.ledger.path_of("late.png"))
    listing = page.client.get("/api/pile").json()
    deadline = time.monotonic() + 60
    while listing["measuring"] and time.monotonic() < deadline:
        time.sleep(0.1)
        listing = page.client.get("/api/pile").json()
    assert "late.png" in [photo["photo"] for photo in listing["photos"]]


def test_a_pile_keeps_its_own_settings(page):
    page.say("shirt.png", {"size_mm": 228.6})
    page.say("second.png", {"no_motif": True})
    assert pile_settings(page.ledger) == Settings()
    assert pile_settings(Ledger.open(page.ledger.folder.parent)) is None


def test_a_link_for_a_phone_leads_over_the_network(tmp_path, pile):
    page = open_page(Path(shutil.copytree(pile, tmp_path / "photos")), lan=True)
    link = page.client.post("/api/links", json={}, headers=OWN).json()
    assert link["is_far"]
    assert link["link"].startswith("http://192.0.2.7:8479/enter/")
    assert len(link["code"]) == len(link["code"][0])
    assert set("".join(link["code"])) == {"0", "1"}
    phone = stranger(page.review)
    phone.base_url = "http://192.0.2.7:8479"
    assert "url=/phone" in phone.get(link["link"]).text
    assert phone.get("/phone").status_code == 200


def test_without_a_network_links_lead_to_this_computer_only(page):
    link = page.client.post("/api/links", json={}, headers=OWN).json()
    assert not link["is_far"]
    assert link["link"].startswith("http://127.0.0.1:8479/enter/")


@pytest.mark.parametrize("code", [code for code in MESSAGES if not code.startswith("plan-")])
def test_the_page_names_no_option(code):
    kind = MESSAGES[code]
    names = {name for _, name, _, _ in Formatter().parse(f"{kind.text} {kind.cure}") if name}
    text = text_of(code, **dict.fromkeys(names, 4.0))
    shown = page_text(Message(code=code, severity="note", text=text))
    assert " --" not in shown


def test_an_answer_outlives_a_machine_that_cannot_measure(page, monkeypatch):
    before = page.ledger.entry("shirt.png").sizing
    with monkeypatch.context() as broken:

        def give_up(*_):
            raise Refusal("took-too-long", seconds=60.0)

        broken.setattr("motiffit.review.table.Table.open", give_up)
        page.say("shirt.png", {"size_mm": 228.6})
    kept = page.ledger.entry("shirt.png")
    assert kept.sizing == before
    assert not kept.is_current(kept.photo_hash, Settings())
    assert page.ledger.said("shirt.png").size_mm == 228.6


# -- the workshop -------------------------------------------------------------------------------


def test_a_job_that_hangs_dies_or_fails_leaves_the_next_one_alone():
    workshop = Workshop(1, limit_s=1.0)
    try:
        assert workshop.give(add_up, 1, 2).result(60) == 3
        for job, code in (
            (hang, "took-too-long"), (die, "worker-died"), (refuse, "photo-too-small"),
            (fill_memory, "out-of-memory"), (fail, "program-fault"),
        ):  # fmt: skip
            with pytest.raises(Refusal) as caught:
                workshop.give(job).result(60)
            assert caught.value.code == code
        assert workshop.give(add_up, 3, 4).result(60) == 7
    finally:
        workshop.close()


def test_what_a_worker_fails_with_names_no_path():
    workshop = Workshop(1)
    secret = "/home/anna/Bilder/photos/shirt.jpg"
    try:
        for job in (fail_at, miss):
            with pytest.raises(Refusal) as caught:
                workshop.give(job, secret).result(60)
            words = text_of(caught.value.code, **caught.value.details)
            assert "Error" in words
            assert "anna" not in words
            assert "shirt" not in words
    finally:
        workshop.close()


def test_what_a_person_waits_for_comes_first():
    workshop = Workshop(1)
    order = []
    try:
        first = workshop.give(time.sleep, 1.0)
        later = [workshop.give(add_up, n, is_urgent=False) for n in range(3)]
        urgent = workshop.give(add_up, 9)
        for name, job in (("later", later[0]), ("urgent", urgent)):
            job.add_done_callback(lambda _, name=name: order.append(name))
        first.result(60)
        later[-1].result(60)
    finally:
        workshop.close()
    assert order == ["urgent", "later"]

"""A pile of photos: the same answers however it is worked through, and nothing done twice."""

import csv
import io
import json
import re
import shlex
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import faults
import piles
import pytest
import records
import scenes
from PIL import ExifTags, Image
from typer.testing import CliRunner

from motiffit.cli.app import app
from motiffit.cli.choose import CHOOSE_EPILOG
from motiffit.cli.pile import PILE_EPILOG
from motiffit.corrections import answer_digest
from motiffit.errors import FileError, UsageError
from motiffit.ledger import Ledger
from motiffit.messages import MESSAGES
from motiffit.pile import pile_rows
from motiffit.runners import ProcessRunner, SerialRunner, run_task
from motiffit.settings import Settings
from motiffit.show.pile_table import COLUMNS, safe_cell, table_parts
from motiffit.show.pile_text import counts_line, eye_text, sizes_text
from motiffit.show.rows import BRIEF, by_garment, do_without, make_row, needing_an_eye
from motiffit.task import Task

QUICK = SerialRunner(work=faults.quick_work)


def not_again(task):
    raise AssertionError(f"{task.photo} was sized again")


NOTHING = SerialRunner(work=not_again)


@pytest.fixture(scope="module")
def real_photos(tmp_path_factory):
    """Two garments that can be measured, one with camera data and place, and a broken file."""
    folder = tmp_path_factory.mktemp("real")
    for seed in range(2):
        picture = scenes.render(scenes.make_scene(seed, tilt_deg=3.0))
        scenes.save_photo(picture, folder / f"{seed}.jpg", focal_35mm=26)
    (folder / "broken.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
    with Image.open(folder / "0.jpg") as image:
        exif = image.getexif()
        exif[ExifTags.Base.Make] = "Cameramaker-Q7"
        exif.get_ifd(ExifTags.IFD.GPSInfo).update(
            {1: "N", 2: (48.0, 12.0, 51.97), 3: "E", 4: (16.0, 22.0, 13.31)}
        )
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.BodySerialNumber] = "SN-8861904"
        image.save(folder / "0.jpg", exif=exif, quality=94)
    with ProcessRunner(2) as runner:
        piles.size_all(folder, runner)
    return folder


def test_processes_answer_as_one_photo_alone_does(real_photos):
    for entry in Ledger.open(real_photos).entries():
        task = Task(
            photo=entry.photo, path=str(real_photos / entry.photo), settings=entry.sizing.settings
        )
        assert replace(run_task(task).sizing, photo=entry.photo) == entry.sizing
    outcomes = {e.photo: e.sizing.outcome for e in Ledger.open(real_photos).entries()}
    assert outcomes["broken.jpg"] == "refused"
    assert outcomes["0.jpg"] in ("sized", "check")


def test_camera_data_and_place_never_leave_the_photo(real_photos):
    secrets = (b"Exif", b"GPS", b"Cameramaker", b"SN-8861904")
    source = (real_photos / "0.jpg").read_bytes()
    assert b"Exif" in source
    assert b"SN-8861904" in source
    for name, stored in piles.on_disk(real_photos).items():
        # pictures in a page are text, in which three letters may stand by chance
        content = re.sub(rb"base64,[A-Za-z0-9+/=]+", b"", stored)
        for secret in secrets:
            assert secret not in content, f"{secret} in {name}"
        if name.endswith(".jpg"):
            with Image.open(io.BytesIO(content)) as image:
                assert not dict(image.getexif()), name
                assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density",
                                           "comment"}, name  # fmt: skip


@pytest.mark.parametrize("jobs", [1, 3])
def test_same_files_for_any_number_of_jobs(tmp_path, jobs):
    alone = piles.make_photos(tmp_path / "alone", 25)
    piles.size_all(alone, QUICK)
    together = piles.make_photos(tmp_path / "together", 25)
    with ProcessRunner(jobs, work=faults.quick_work) as runner:
        piles.size_all(together, runner)
    assert piles.differences(piles.on_disk(together), piles.on_disk(alone)) == []


def test_second_run_sizes_nothing_and_changes_nothing(tmp_path):
    piles.make_photos(tmp_path)
    piles.size_all(tmp_path, QUICK)
    before = piles.on_disk(tmp_path)
    assert piles.size_all(tmp_path, NOTHING) == []
    assert piles.differences(piles.on_disk(tmp_path), before) == []


def test_only_what_changed_is_sized_again(tmp_path):
    piles.make_photos(tmp_path, 5)
    piles.size_all(tmp_path, QUICK)
    (tmp_path / "IMG_2.jpg").write_bytes(b"another photo")
    (tmp_path / "IMG_9.jpg").write_bytes(b"a new photo")
    (tmp_path / "IMG_4.jpg").unlink()
    Ledger.open(tmp_path).tell("IMG_5.jpg", {"pick": 1}, by="test")
    sized = piles.size_all(tmp_path, QUICK)
    assert [one.photo for one in sized] == ["IMG_2.jpg", "IMG_5.jpg", "IMG_9.jpg"]
    assert Ledger.open(tmp_path).gone() == ("IMG_4.jpg",)
    assert b"IMG_4.jpg" not in piles.on_disk(tmp_path)["pile.csv"]


def test_other_settings_size_everything_again(tmp_path):
    piles.make_photos(tmp_path, 3)
    piles.size_all(tmp_path, QUICK)
    assert len(piles.size_all(tmp_path, QUICK, settings=Settings(clearance_mm=6.0))) == 3


def test_answer_to_another_question_is_a_fault(tmp_path):
    piles.make_photos(tmp_path, 1)
    other = Settings(clearance_mm=9.0)

    def work(task):
        return replace(faults.quick_work(replace(task, settings=other)), task=task)

    with pytest.raises(ValueError, match="other settings"):
        piles.size_all(tmp_path, SerialRunner(work=work))


def test_correction_that_comes_while_the_photo_is_in_hand_is_heeded(tmp_path):
    piles.make_photos(tmp_path, 3)
    ledger, told = Ledger.open(tmp_path), []

    def work(task):
        done = faults.quick_work(task)
        if task.photo == "IMG_2.jpg" and not told:
            told.append(ledger.tell("IMG_2.jpg", {"size_mm": 203.2}, by="test"))
        return done

    sized = piles.size_all(tmp_path, SerialRunner(work=work))
    assert [one.photo for one in sized] == ["IMG_1.jpg", "IMG_3.jpg", "IMG_2.jpg"]
    assert ledger.entry("IMG_2.jpg").sizing.settings.sizes_mm == (203.2,)
    assert ledger.said("IMG_2.jpg") == told[0]


def test_photo_that_vanishes_midway_is_passed_over(tmp_path):
    piles.make_photos(tmp_path, 4)

    def work(task):
        if task.photo == "IMG_2.jpg":
            (tmp_path / "IMG_3.jpg").unlink(missing_ok=True)
        return faults.quick_work(task) if Path(task.path).exists() else run_task(task)

    sized = {one.photo: one for one in piles.size_all(tmp_path, SerialRunner(work=work))}
    assert sized["IMG_3.jpg"].sizing.messages[0].code == "photo-missing"
    assert not sized["IMG_3.jpg"].is_kept
    assert [entry.photo for entry in Ledger.open(tmp_path).entries()] == [
        "IMG_1.jpg", "IMG_2.jpg", "IMG_4.jpg",
    ]  # fmt: skip


def test_photo_that_changes_while_it_is_sized_is_sized_as_it_is_in_the_end(real_photos, tmp_path,
                                                                          monkeypatch):  # fmt: skip
    from motiffit import working

    path = tmp_path / "a.jpg"
    path.write_bytes((real_photos / "0.jpg").read_bytes())
    whole, looks = (real_photos / "1.jpg").read_bytes(), []

    def size_and_change(name, settings, real=working.size_photo):
        sizing = real(name, settings)
        if not looks:
            path.write_bytes(whole)
        looks.append(name)
        return sizing

    monkeypatch.setattr(working, "size_photo", size_and_change)
    done = run_task(Task(photo="a.jpg", path=str(path), settings=Settings()))
    assert len(looks) == 2
    expected = Ledger.open(real_photos).entry("1.jpg")
    assert done.photo_hash == expected.photo_hash
    assert done.sizing.window == expected.sizing.window


def test_worker_of_another_version_is_turned_away(tmp_path):
    piles.make_photos(tmp_path, 2)
    other = SerialRunner(work=lambda task: replace(faults.quick_work(task), program="0.0.1"))
    with pytest.raises(FileError, match=r"0\.0\.1"):
        piles.size_all(tmp_path, other)
    assert list(Ledger.open(tmp_path).entries()) == []


# -- garments and urgency -----------------------------------------------------------------------


def make_rows(**garments):
    """Make lines from photo=(garment, record, what was said)."""
    return [
        make_row(replace(sizing, photo=photo), garment=garment, **said)
        for photo, (garment, sizing, said) in garments.items()
    ]


def counting(groups):
    return [row.photo for group in groups for row in group if row.counts]


def test_garments_are_left_out_by_any_of_their_names():
    sized = records.make_sizing()
    rows = [
        row
        for group in by_garment(
            make_rows(**{
                "romper front": ("Romper", sized, {}),
                "romper back": ("Romper", sized, {}),
                "Bib.jpg": ("Bib", sized, {}),
            })
        )
        for row in group
    ]  # fmt: skip
    assert counting([do_without(rows, [])]) == counting([rows]) == ["romper front", "Bib.jpg"]
    # another photo of the garment takes the place of the one left out
    assert counting([do_without(rows, ["romper front"])]) == ["romper back", "Bib.jpg"]
    assert counting([do_without(rows, ["ROMPER"])]) == ["Bib.jpg"]
    assert counting([do_without(rows, ["bib", "romper"])]) == []
    with pytest.raises(UsageError, match="'sock'"):
        do_without(rows, ["bib", "sock"])


def test_of_one_garments_photos_the_best_counts():
    sized, check = (
        records.make_sizing(),
        records.make_sizing(records.Case(codes=("reference-bent",))),
    )
    larger = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 90.0, 90.0),)))
    rows = make_rows(
        front=("romper", check, {}), back=("Romper", sized, {}), bib=("bib", check, {})
    )
    assert counting(by_garment(rows)) == ["back", "bib"]
    rows = make_rows(small=("romper", sized, {}), large=("romper", larger, {}))
    assert counting(by_garment(rows)) == ["large"]


def test_a_persons_word_on_which_photo_to_use_wins():
    sized, check = (
        records.make_sizing(),
        records.make_sizing(records.Case(codes=("reference-bent",))),
    )
    rows = make_rows(
        a=("x", sized, {}), b=("x", check, {"keep": True}), c=("y", sized, {"keep": False})
    )
    assert counting(by_garment(rows)) == ["b"]
    rows = make_rows(a=("x", sized, {"keep": True}), b=("x", check, {"keep": True}))
    assert counting(by_garment(rows)) == ["a", "b"], "two squares from one garment"


def test_worst_comes_first():
    huge = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 300.0, 72.0),)))
    doubtful = records.make_sizing(records.Case(codes=("motif-doubtful",), trust=0.6))
    more_doubtful = records.make_sizing(records.Case(codes=("motif-doubtful",), trust=0.3))
    tilted = records.make_sizing(records.Case(codes=("reference-bent",)))
    rows = make_rows(
        tilted=("1", tilted, {}), doubtful=("2", doubtful, {}),
        fine=("3", records.make_sizing(), {}),
        refused=("4", records.make_refused(), {}), huge=("5", huge, {}),
        worse=("6", more_doubtful, {}), accepted=("7", huge, {"is_accepted": True}),
    )  # fmt: skip
    assert [row.photo for row in needing_an_eye(rows)] == [
        "huge", "refused", "worse", "doubtful", "tilted",
    ]  # fmt: skip


def test_every_warning_of_a_photo_has_its_urgency_and_brief_words():
    codes = {code for code, kind in MESSAGES.items() if kind.severity == "warning"}
    assert {code for code in codes if not code.startswith("plan-")} == set(BRIEF)


def test_counts_and_sizes_in_words():
    huge = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 300.0, 72.0),)))
    check = records.make_sizing(records.Case(codes=("reference-bent",)))
    rows = make_rows(
        a=("1", records.make_sizing(), {}), b=("2", check, {}), c=("3", huge, {}),
        d=("4", records.make_refused(), {}),
    )  # fmt: skip
    told = "4 garments: 1 sized, 1 to check, 1 not to be cut, 1 not measured"
    assert counts_line(rows) == told
    *lines, rest = sizes_text(rows).splitlines()
    assert [line.split() for line in lines[1:]] == [
        ["4", "in", "4", "1/2", "in", "1", "1", "2"],
        ["Together", "1", "1", "2"],
    ]
    assert rest == "  Not among these: 1 not to be cut, 1 not measured"
    eye = eye_text(rows, clean=str.upper, width=80)
    assert eye.index("C: Do not cut") < eye.index("D: Not measured") < eye.index("B: Check")


def test_long_list_is_cut_short_on_the_screen():
    check = records.make_sizing(records.Case(codes=("reference-bent",)))
    rows = make_rows(**{f"p{number}": (str(number), check, {}) for number in range(25)})
    assert "and 5 more, all on the page" in eye_text(rows, clean=str, width=80)


def test_acceptance_settles_a_photo(tmp_path):
    piles.make_photos(tmp_path, 1)
    work = SerialRunner(
        work=lambda task: replace(
            faults.quick_work(task),
            sizing=records.make_sizing(records.Case(photo=task.path, codes=("reference-bent",))),
        )
    )
    piles.size_all(tmp_path, work)
    ledger = Ledger.open(tmp_path)
    assert len(needing_an_eye(pile_rows(ledger))) == 1
    entry = ledger.entry("IMG_1.jpg")
    ledger.tell("IMG_1.jpg", {"accepted": answer_digest(entry.sizing, entry.photo_hash)}, by="test")
    assert needing_an_eye(pile_rows(ledger)) == []
    assert counts_line(pile_rows(ledger)) == "1 garment: 1 accepted"
    assert sizes_text(pile_rows(ledger)).split()[-3:] == ["1", "0", "1"]


def test_a_square_accepted_though_too_small_counts_as_accepted_everywhere():
    huge = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 300.0, 72.0),)))
    (row,) = make_rows(a=("1", huge, {}))
    assert "1 not to be cut" in counts_line([row])
    assert sizes_text([row]) == ""
    accepted = [replace(row, is_accepted=True)]
    assert counts_line(accepted) == "1 garment: 1 accepted"
    assert sizes_text(accepted).split()[-3:] == ["1", "0", "1"]


# -- the table ------------------------------------------------------------------------------------


def read_table(content):
    text = content.decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_table_holds_what_the_records_say(tmp_path):
    piles.make_photos(tmp_path, 2)
    piles.size_all(tmp_path, QUICK)
    ledger = Ledger.open(tmp_path)
    ledger.tell("IMG_1.jpg", {"note": "of Tom", "zip": True, "vinyl": True}, by="test")
    piles.size_all(tmp_path, NOTHING)
    lines = read_table(piles.on_disk(tmp_path)["pile.csv"])
    assert [line["photo"] for line in lines] == ["IMG_1.jpg", "IMG_2.jpg"]
    window = ledger.entry("IMG_1.jpg").sizing.window
    assert tuple(lines[0]) == COLUMNS
    assert float(lines[0]["finished_mm"]) == pytest.approx(window.finished_mm, abs=0.005)
    assert float(lines[0]["clearance_left_mm"]) == pytest.approx(
        window.clearance_mm.left, abs=0.005
    )
    assert (lines[0]["carries"], lines[0]["note"]) == ("zip, vinyl print", "of Tom")


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", " =", "\uff1d", "\n="])
def test_no_cell_of_words_begins_like_a_formula(start):
    row = make_row(
        replace(records.make_sizing(), photo=f"{start}cmd|' /C calc'!A0.jpg"),
        garment=f"{start}1+1",
        note=f"{start}HYPERLINK(0)",
    )
    cells = read_table(b"".join(table_parts([row])))[0]
    for column in ("photo", "garment", "note"):
        assert cells[column].startswith("'"), column
        assert cells[column][1:].lstrip().startswith(start.strip()), column


def test_ordinary_cells_stay_as_they_are():
    assert [safe_cell(text) for text in ("a-b", "4 in", "", "b=c", "'x")] == [
        "a-b", "4 in", "", "b=c", "'x",
    ]  # fmt: skip


# -- the command ----------------------------------------------------------------------------------


def command(*words):
    return CliRunner().invoke(app, ["pile", *map(str, words)])


def test_command_on_a_sized_pile(real_photos):
    answer = command(real_photos)
    assert answer.exit_code == 1, "one photo is broken"
    assert answer.stdout.startswith("3 garments: ")
    assert "broken.jpg: Not measured" in answer.stdout
    assert "Measured by: card of " in answer.stdout
    assert f"{real_photos / 'motiffit' / 'index.html'}" in answer.stdout
    assert answer.stderr == ""


def test_command_for_programs_keeps_the_order(real_photos):
    answer = command(real_photos, "--json")
    documents = [json.loads(line) for line in answer.stdout.splitlines()]
    assert [document["photo"] for document in documents] == ["0.jpg", "1.jpg", "broken.jpg"]
    assert documents[0]["schema"] == "motiffit.sizing/1"
    assert documents[0]["said"] == {}


@pytest.fixture
def asked(tmp_path, monkeypatch):
    """A pile that was asked for more than the usual, and work that takes no time."""
    monkeypatch.setattr("motiffit.cli.pile_run.ProcessRunner", lambda jobs: nullcontext(QUICK))
    settings = Settings(sizes_mm=(76.2, 152.4, 228.6), side_mm=98.425, turn="motif")
    folder = piles.make_photos(tmp_path / "photos", 3)
    piles.size_all(folder, QUICK, settings=settings)
    return folder, settings


def asked_now(folder):
    """What all photos of a pile were asked; they must agree."""
    (settings,) = {entry.sizing.settings for entry in Ledger.open(folder).entries()}
    return settings


def test_command_keeps_to_what_the_pile_was_asked_and_says_so(asked):
    folder, settings = asked
    before = piles.on_disk(folder)
    answer = command(folder)
    assert answer.stderr == (
        "motiffit: as this pile was asked before: sizes 3, 6, 9 in; side 3 7/8 in; turn motif\n"
    )
    assert piles.differences(piles.on_disk(folder), before) == [], "nothing was sized anew"
    (folder / "late.jpg").write_bytes(b"late")
    assert command(folder, "-q").stderr == ""
    assert Ledger.open(folder).entry("late.jpg").sizing.settings == settings


def test_other_sizes_hold_although_the_run_was_cut_short(asked):
    folder, settings = asked
    ledger, other = Ledger.open(folder), replace(settings, sizes_mm=(101.6, 203.2))
    ledger.keep_asked(other)  # as a run does first; then Ctrl-C
    command(folder)
    assert asked_now(folder) == other


def test_a_pile_of_which_nothing_can_be_read_says_so(asked):
    folder, _ = asked
    home = Ledger.open(folder).home
    for path in (home / "asked.json", *(home / "records").iterdir()):
        path.write_text('{"schema": "of another time"}')
    assert command(folder).stderr == (
        "motiffit: what this pile was asked before cannot be read: give your options once more\n"
    )
    assert asked_now(folder) == Settings()


@pytest.mark.parametrize(
    ("words", "changes", "told"),
    [
        (("--sizes", "4, 8"), {"sizes_mm": (101.6, 203.2)}, "side 3 7/8 in; turn motif"),
        (("--side", "card"), {"side_mm": None}, "sizes 3, 6, 9 in; turn motif"),
        (
            ("--units", "cm"),
            {"units": "cm", "seam_allowance_mm": 7.5},
            "sizes 76.2, 152.4, 228.6 mm; side 3 7/8 in; turn motif",
        ),
    ],
)
def test_an_option_that_is_given_counts_and_the_others_stay(asked, words, changes, told):
    folder, settings = asked
    answer = command(folder, *words)
    assert answer.stderr == f"motiffit: as this pile was asked before: {told}\n"
    assert asked_now(folder) == replace(settings, **changes)


def test_lengths_without_a_unit_are_read_in_the_units_of_the_pile(asked):
    folder, _ = asked
    usual = ("--units", "cm", "--sizes", "8, 12", "--side", "card", "--turn", "grain")
    assert command(folder, *usual).stderr == ""
    answer = command(folder, "--clearance", "0.4")
    assert answer.stderr == "motiffit: as this pile was asked before: units cm; sizes 8, 12 cm\n"
    assert asked_now(folder) == Settings(
        units="cm", sizes_mm=(80.0, 120.0), seam_allowance_mm=7.5, clearance_mm=4.0
    )


def test_help_says_what_is_asked_where_nothing_is_said():
    size, pile = (
        " ".join(CliRunner().invoke(app, [name, "--help"]).stdout.split())
        for name in ("size", "pile")
    )
    for text in (size, pile):
        assert "--side LENGTH|card" in text
        assert "card: as the code on the card says" in text
    for usual in ("in]", "3 to 9 in,", "1/4 in,", "1/8 in]", "card]", "grain]"):
        assert f"[default: {usual}" in size
        assert f"[default: as before; at first: {usual}" in pile


EXAMPLES = [
    line.strip()
    for line in (PILE_EPILOG + CHOOSE_EPILOG).splitlines()
    if "  motiffit" in line and "--watch" not in line  # which waits for Ctrl-C: test_watch.py
]


@pytest.mark.parametrize("example", EXAMPLES)
def test_examples_of_the_help_run(tmp_path, monkeypatch, example):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("motiffit.cli.pile_run.ProcessRunner", lambda jobs: nullcontext(QUICK))
    piles.make_photos(tmp_path / "photos", 9)
    piles.size_all(tmp_path / "photos", QUICK)
    words = shlex.split(example)
    words = words[: words.index(">")] if ">" in words else words
    answer = CliRunner().invoke(app, words[1:])
    assert answer.exit_code in (0, 1), answer.output
    assert answer.stdout
    assert answer.stderr == ""


def test_every_option_is_in_the_docs():
    text = (Path(__file__).parent.parent / "docs" / "pile.md").read_text()
    size_options = {"--units", "--seam-allowance", "--clearance", "--side", "--turn"}
    for name in ("pile", "choose"):
        shown = CliRunner().invoke(app, [name, "--help"]).stdout
        options = set(re.findall(r"(?<=[ ,])--[a-z-]+", shown)) - size_options - {"--help"}
        assert {option for option in options if option not in text} == set()


def test_command_in_brief(real_photos):
    assert command(real_photos, "-q").stdout.count("\n") == 1


def test_empty_folder(tmp_path):
    (tmp_path / "notes.txt").write_text("no photo")
    answer = command(tmp_path)
    assert (answer.exit_code, answer.stdout) == (2, "")
    assert "no photos found in" in answer.stderr
    assert "folders inside it are not looked through" in answer.stderr
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_a_pile_whose_photos_are_gone_is_still_told_of(tmp_path):
    piles.make_photos(tmp_path, 1)
    piles.size_all(tmp_path, QUICK)
    (tmp_path / "IMG_1.jpg").unlink()
    answer = command(tmp_path)
    assert answer.exit_code == 0
    assert answer.stdout.startswith("No photo was sized")
    assert "not counted: IMG_1.jpg" in answer.stdout


@pytest.mark.parametrize(
    "words", [["--jobs", "0"], ["--jobs", "two"], ["--scheduler", "tcp://x:1", "--jobs", "2"]]
)
def test_wrong_usage(tmp_path, words):
    assert command(tmp_path, *words).exit_code == 2


def test_names_that_trip_others_come_through(tmp_path):
    piles.make_photos(tmp_path, 0, piles.NASTY)
    piles.size_all(tmp_path, QUICK)
    answer = command(tmp_path, "--json")
    names = {json.loads(line)["photo"] for line in answer.stdout.splitlines()}
    assert names == set(piles.NASTY)
    screen = command(tmp_path).stdout
    assert all(letter.isprintable() or letter == "\n" for letter in screen)
    table = read_table(piles.on_disk(tmp_path)["pile.csv"])
    assert {cells["photo"].removeprefix("'") for cells in table} == {
        name.removeprefix("'") for name in piles.NASTY
    }


def test_link_out_of_the_folder_is_named_and_not_read(tmp_path):
    folder = piles.make_photos(tmp_path / "photos", 1)
    (tmp_path / "outside.jpg").write_bytes(b"outside")
    (folder / "link.jpg").symlink_to(tmp_path / "outside.jpg")
    piles.size_all(folder, QUICK)
    answer = command(folder)
    assert "Links that lead out of the folder, not read: link.jpg" in answer.stdout
    assert counts_line(pile_rows(Ledger.open(folder))).startswith("1 garment")

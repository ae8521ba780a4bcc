"""The command line: status, what goes to stdout and stderr, files, and errors with their cure."""

import io
import json
import os
import shlex
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from PIL import Image
from records import Case, make_refused, make_sizing
from scenes import make_scene, render, save_photo

from motiffit.cli.app import app, main
from motiffit.cli.card import CARD_EPILOG
from motiffit.cli.size import SIZE_EPILOG
from motiffit.cli.terminal import Progress, clean_name, tell
from motiffit.record import SCHEMA, Sizing
from motiffit.settings import Settings


@pytest.fixture(scope="module")
def scene_photo(tmp_path_factory):
    """A photo with EXIF data, as a phone writes it."""
    scene = make_scene(4, tilt_deg=3.0)
    path = tmp_path_factory.mktemp("photos") / "photo.jpg"
    return save_photo(render(scene), path, focal_35mm=scene.camera.focal_35mm)


@pytest.fixture
def folder(tmp_path, monkeypatch, scene_photo):
    """A folder to work in, with two photos."""
    for name in ("photo.jpg", "bib.jpg"):
        (tmp_path / name).write_bytes(scene_photo.read_bytes())
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("NO_COLOR", raising=False)
    return tmp_path


@pytest.fixture
def run(folder, monkeypatch, capfd):
    """Run the command line as the shell does; give status, stdout and stderr."""

    def run_words(*words):
        monkeypatch.setattr(sys, "argv", ["motiffit", *map(str, words)])
        with pytest.raises(SystemExit) as end:
            main()
        out, err = capfd.readouterr()
        return int(end.value.code or 0), out, err

    return run_words


@pytest.fixture
def sized(monkeypatch):
    """Put made-up records in the place of measuring; the list tells what was asked."""
    asked = []

    def size_photo(path, settings):
        asked.append((path, settings))
        name = Path(path).name
        if name.startswith("bad"):
            return make_refused(photo=str(path))
        case = Case(photo=str(path), codes=("motif-doubtful",) if name.startswith("b") else ())
        return replace(make_sizing(case), settings=settings)

    monkeypatch.setattr("motiffit.sizing.size_photo", size_photo)
    return asked


# --- the main job, on a real picture -------------------------------------------------------------


def test_photo_gives_a_screen_with_the_sizes_first_and_writes_nothing(run, folder):
    before = sorted(folder.iterdir())
    status, out, err = run("size", "photo.jpg")
    assert status == 0
    assert "inished" in out.splitlines()[0]
    assert "Tape off" in out
    assert err == ""
    assert sorted(folder.iterdir()) == before


def test_overlay_is_a_picture_without_exif(run, folder):
    with Image.open("photo.jpg") as photo:
        assert photo.getexif()
    for name, kind in (("window.png", "PNG"), ("window.jpg", "JPEG")):
        status, _, err = run("size", "photo.jpg", "--overlay", name)
        assert (status, err) == (0, "")
        with Image.open(folder / name) as picture:
            assert picture.format == kind
            assert max(picture.size) <= 1640
            assert not picture.getexif()
            assert "exif" not in picture.info


def test_json_of_several_photos_is_one_document_a_line(run):
    status, out, err = run("size", "photo.jpg", "bib.jpg", "--json", "--side", "76.2 mm")
    records = [Sizing.from_json(line) for line in out.splitlines()]
    assert (status, err) == (0, "")
    assert [record.photo for record in records] == ["photo.jpg", "bib.jpg"]
    assert json.loads(out.splitlines()[0])["schema"] == SCHEMA
    assert records[0].reference.side_mm == pytest.approx(76.2)
    assert records[0].settings == Settings(side_mm=76.2)


@pytest.mark.parametrize(
    "example",
    [line.strip() for line in (SIZE_EPILOG + CARD_EPILOG).splitlines() if "  motiffit" in line],
)
def test_examples_of_the_help_run(run, example):
    words = shlex.split(example)
    words = words[: words.index(">")] if ">" in words else words
    status, out, err = run(*words[1:])
    assert (status, err) == (0, "")
    assert out


def test_every_command_shows_an_example_in_its_help(run):
    for command in app.registered_commands:
        name = command.name or command.callback.__name__
        status, out, _ = run(name, "--help")
        assert status == 0
        assert f"motiffit {name}" in out


def test_missing_photo_is_refused_with_its_cure_and_the_others_still_measured(run):
    status, out, _ = run("size", "nowhere.jpg", "photo.jpg", "--json")
    outcomes = [json.loads(line)["outcome"] for line in out.splitlines()]
    assert status == 1
    assert outcomes[0] == "refused"
    assert outcomes[1] != "refused"


# --- what is said, and where ---------------------------------------------------------------------


def test_status_is_1_when_any_photo_was_refused(run, sized):
    assert run("size", "photo.jpg")[0] == 0
    status, out, err = run("size", "photo.jpg", "bad.jpg")
    assert status == 1
    assert "bad.jpg: Not measured" in out
    assert "2 photos: 1 sized, 1 not measured" in out
    assert err == ""


def test_many_photos_take_a_few_lines_each_and_one_caution(run, sized):
    _, out, _ = run("size", "photo.jpg", "bib.jpg")
    assert out.startswith("photo.jpg: Finished 4 in, cut 4 1/2 in")
    assert "bib.jpg: Check before you cut" in out
    assert "Finished sizes: 4 in: 2" in out
    assert out.count("Rotary cutter") == 1


def test_quiet_gives_one_line_a_photo(run, sized):
    assert run("size", "-q", "photo.jpg")[1] == "Finished 4 in, cut 4 1/2 in\n"
    assert run("size", "-q", "photo.jpg", "bad.jpg")[1].splitlines() == [
        "photo.jpg: Finished 4 in, cut 4 1/2 in",
        "bad.jpg: Not measured",
    ]


def test_verbose_tells_how_it_was_measured(run, sized):
    _, out, _ = run("size", "-v", "photo.jpg")
    assert "each edge within" in out
    assert "tilted by 4.2 degrees" in out


def test_names_cannot_steer_the_terminal(run, sized):
    nasty = "bad\x1b[31m\r\n.jpg"
    _, out, _ = run("size", nasty, "photo.jpg")
    assert "\x1b" not in out
    assert "bad?[31m??.jpg: Not measured" in out
    assert clean_name("B\u00e4r \u718a.jpg") == "B\u00e4r \u718a.jpg"


@pytest.mark.skipif(os.name == "nt", reason="names are not bytes there")
def test_name_that_is_no_text_still_gives_json(run, sized):
    status, out, _ = run("size", os.fsdecode(b"b\xe9b\xe9.jpg"), "--json")
    assert status == 0
    assert json.loads(out)["photo"] == "b\udce9b\udce9.jpg"


class Screen(io.StringIO):
    def isatty(self):
        return True


@pytest.mark.parametrize(
    ("variables", "coloured"),
    [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)],
)
def test_colour_only_on_a_terminal_that_wants_it(folder, monkeypatch, variables, coloured):
    for name, value in {"TERM": "xterm", **variables}.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "stdout", Screen())
    tell("Finished 4 in\nmore", make_sizing())
    assert ("\x1b[" in sys.stdout.getvalue()) == coloured
    monkeypatch.setattr(sys, "stdout", io.StringIO())
    tell("Finished 4 in\nmore", make_sizing())
    assert sys.stdout.getvalue() == "Finished 4 in\nmore\n"


def test_progress_shows_on_a_terminal_only_and_is_cleared(monkeypatch, capfd):
    quiet = Progress(3, wanted=True)
    quiet.show(1, "a.jpg")
    assert capfd.readouterr().err == ""
    monkeypatch.setattr(sys, "stderr", Screen())
    for total, wanted, shown in ((3, True, True), (3, False, False), (1, True, False)):
        sys.stderr.truncate(0)
        progress = Progress(total, wanted=wanted)
        progress.show(1, "a\x1b.jpg")
        progress.clear()
        assert sys.stderr.getvalue().lstrip("\0").endswith("1/3 a?.jpg\r\x1b[K" if shown else "")
        assert ("1/3" in sys.stderr.getvalue()) == shown


def test_interrupt_ends_with_130(run, monkeypatch):
    def interrupted(path, settings):
        raise KeyboardInterrupt

    monkeypatch.setattr("motiffit.sizing.size_photo", interrupted)
    status, out, _ = run("size", "photo.jpg")
    assert (status, out) == (130, "")


# --- options -------------------------------------------------------------------------------------


def test_options_reach_the_settings(run, sized):
    words = (
        "size photo.jpg --sizes 4,8 --seam-allowance 3/8 --clearance 5mm --side '3 7/8' "
        "--turn motif --near 12.5,40 --units in"
    )
    assert run(*shlex.split(words))[0] == 0
    ((_, settings),) = sized
    assert settings == Settings(
        sizes_mm=(101.6, 203.2),
        seam_allowance_mm=9.525,
        clearance_mm=5.0,
        side_mm=98.425,
        turn="motif",
        near_px=(12.5, 40.0),
    )


@pytest.mark.parametrize(
    ("words", "changed"),
    [
        ("", {}),
        ('--outline "1,2 30,40"', {"outline_px": ((1.0, 2.0), (30.0, 40.0))}),
        ("--outline=-1,2 30,40 5,6", {"outline_px": ((-1.0, 2.0), (30.0, 40.0), (5.0, 6.0))}),
        ("--pick 2", {"pick": 2}),
        ("--no-motif", {"no_motif": True}),
    ],
)
def test_single_options(run, sized, words, changed):
    words = [words] if words.startswith("--outline=") else shlex.split(words)
    assert run("size", "photo.jpg", *words)[0] == 0
    assert sized[0][1] == Settings(**changed)


def test_centimetres_come_with_sizes_that_a_metric_ruler_shows(run, sized):
    run("size", "photo.jpg", "--units", "cm")
    settings = sized[0][1]
    assert settings.sizes_mm == (75.0, 100.0, 125.0, 150.0, 175.0, 200.0, 225.0)
    assert settings.seam_allowance_mm == 7.5
    assert settings.units == "cm"
    run("size", "photo.jpg", "--units", "cm", "--sizes", "8, 12", "--seam-allowance", "1/4 in")
    assert sized[1][1].sizes_mm == (80.0, 120.0)
    assert sized[1][1].seam_allowance_mm == pytest.approx(6.35)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--side big", ["--side", "'4 1/2 in'"]),
        ("--side 1mm", ["between 5 mm and 1 m"]),
        ("--side 76.2", ["taken as 76 3/16 in", "between 5 mm and 1 m: check the unit"]),
        (f"--side {'9' * 400}", ["--side", "far too large"]),
        (f"--sizes {'9' * 400}", ["--sizes", "far too large"]),
        ("--sizes ,", ["--sizes", "'3, 4, 5 in'"]),
        ("--sizes 0", ["--sizes", "holds nothing"]),
        ("--clearance -1", ["--clearance"]),
        ("--seam-allowance 1m", ["--seam-allowance", "'11.5 cm'"]),
        ("--near 12", ["--near", "such as 620,420"]),
        ("--near nan,1", ["--near", "lies in no photo"]),
        ("--outline 1,2", ["--outline", "two points"]),
        ("--outline '1,2 x'", ["--outline", "'x' is not a point"]),
        ("--pick 0", ["--pick counts from 1"]),
        ("--pick 1 --near 1,1", ["one of --outline, --near, --pick and --no-motif"]),
        ("--units feet", ["--units", "'in'", "'cm'"]),
        ("--turn left", ["--turn", "'grain'", "'motif'"]),
        ("bib.jpg --near 1,1", ["belong to one photo"]),
        ("bib.jpg --overlay a.png", ["--overlays"]),
        ("--overlay a.png --overlays b", ["not both"]),
        ("--overlay a.bmp", [".png or .jpg"]),
        ("--colour", ["--colour"]),
        (".", ["is a folder", "*.jpg"]),
    ],
)
def test_wrong_words_are_refused_with_the_option_and_the_cure(run, sized, words, said):
    status, out, err = run("size", "photo.jpg", *shlex.split(words))
    assert (status, out) == (2, "")
    flat = " ".join(err.split())
    assert all(part in flat for part in said), flat
    assert sized == []


def test_file_that_begins_with_a_dash_is_explained(run, folder, sized):
    (folder / "-bib.jpg").write_bytes(b"")
    status, _, err = run("size", "-bib.jpg")
    assert status == 2
    assert "name the file as './-bib.jpg'" in err
    assert run("size", "./-bib.jpg")[0] == 0
    assert run("size", "--", "-bib.jpg")[0] == 0


def test_without_words_the_help_is_shown(run):
    _, out, err = run()
    assert "Usage: motiffit" in out + err
    status, out, _ = run("--help")
    assert status == 0
    assert "size" in out
    assert "card" in out


def test_version_is_that_of_the_package(run):
    from importlib.metadata import version

    assert run("--version")[1] == f"motiffit {version('motiffit')}\n"


# --- files ---------------------------------------------------------------------------------------


def test_overlays_go_into_a_folder_under_names_that_do_not_clash(run, folder, sized):
    (folder / "more").mkdir()
    for name in ("more/photo.jpg", "photo.png"):
        Image.new("RGB", (400, 300)).save(folder / name)
    words = ("photo.jpg", "more/photo.jpg", "photo.png", "--overlays", "out/pictures")
    status, out, _ = run("size", *words)
    assert status == 0
    assert out.endswith(f"\nPictures with the squares: {Path('out/pictures')}\n")
    assert sorted(path.name for path in (folder / "out/pictures").iterdir()) == [
        "photo-window-2.jpg",
        "photo-window-3.jpg",
        "photo-window.jpg",
    ]
    assert run("size", *words)[0] == 0  # pictures of its own are replaced
    for short in ("-q", "--json"):
        assert "Pictures" not in run("size", *words, short)[1]


def test_pictures_are_named_only_where_one_was_written(run, folder):
    for name in ("empty.jpg", "other.jpg"):
        (folder / name).write_bytes(b"")
    status, out, err = run("size", "empty.jpg", "other.jpg", "--overlays", "out")
    assert status == 1
    assert "Pictures" not in out
    assert err.count("no picture of") == 2
    assert not list((folder / "out").iterdir())


def test_overlays_differ_by_more_than_capitals(run, folder, sized):
    (folder / "more").mkdir()
    Image.new("RGB", (400, 300)).save(folder / "more/Photo.jpg")
    assert run("size", "photo.jpg", "more/Photo.jpg", "--overlays", "out")[0] == 0
    assert sorted(path.name for path in (folder / "out").iterdir()) == [
        "Photo-window-2.jpg",
        "photo-window.jpg",
    ]


def test_a_fault_on_one_photo_does_not_lose_the_others(run, monkeypatch):
    def size_photo(path, settings):
        if Path(path).name == "photo.jpg":
            raise RuntimeError("broken")
        return make_sizing(Case(photo=str(path)))

    monkeypatch.setattr("motiffit.sizing.size_photo", size_photo)
    status, out, _ = run("size", "photo.jpg", "bib.jpg", "--json")
    first, second = (json.loads(line) for line in out.splitlines())
    assert status == 1
    assert [message["code"] for message in first["messages"]] == ["program-fault"]
    assert second["outcome"] == "sized"


def test_overlay_never_takes_the_place_of_a_photo(run, folder, sized):
    before = (folder / "bib.jpg").read_bytes()
    # what `motiffit size --overlay *.jpg` becomes when the shell has filled in the names
    status, _, err = run("size", "--overlay", "bib.jpg", "photo.jpg")
    assert status == 2
    assert "bib.jpg exists and was not made by motiffit" in err
    assert (folder / "bib.jpg").read_bytes() == before
    assert sized == []


@pytest.mark.parametrize(
    "words",
    ["size photo.jpg --overlay no/where.png", "size photo.jpg --overlays photo.jpg/in",
     "card no/where.pdf"],
)  # fmt: skip
def test_place_that_cannot_be_written_is_told_before_the_work(run, sized, words):
    status, out, err = run(*shlex.split(words))
    assert (status, out) == (2, "")
    assert err.startswith("motiffit: cannot")
    assert sized == []


@pytest.mark.parametrize("words", ["size photo.jpg --overlay a.png", "card a.pdf"])
def test_folder_that_may_not_be_written_is_told_before_the_work(run, sized, monkeypatch, words):
    # asked for by name, because the tests may run as one who may write everywhere
    monkeypatch.setattr(os, "access", lambda path, mode: mode != os.W_OK)
    status, out, err = run(*shlex.split(words))
    assert (status, out, sized) == (2, "", [])
    assert "may not be written to" in err


def test_photo_that_cannot_be_read_has_no_picture_but_a_word(run, folder):
    (folder / "bad.jpg").write_bytes(b"")
    status, out, err = run("size", "bad.jpg", "--overlay", "window.png")
    assert status == 1
    assert out.startswith("Not measured")
    assert err == "motiffit: no picture of bad.jpg: it cannot be read\n"
    assert not (folder / "window.png").exists()


def test_card_is_written_and_only_replaces_its_own(run, folder):
    status, out, err = run("card")
    assert (status, err) == (0, "")
    assert "a card of 4 in for letter paper" in out
    assert (folder / "motiffit-card.pdf").read_bytes().startswith(b"%PDF")
    assert "100 mm for a4" in run("card", "--units", "cm")[1]
    assert 'With --side "37 mm"' in run("card", "--side", "37 mm")[2]
    (folder / "guide.pdf").write_bytes(b"%PDF-1.4 how to sew with motiffit")
    assert run("card", "guide.pdf")[0] == 2
    (folder / "pattern.pdf").write_bytes(b"%PDF-1.4 bought pattern")
    status, _, err = run("card", "pattern.pdf")
    assert status == 2
    assert "choose another name" in err
    assert (folder / "pattern.pdf").read_bytes() == b"%PDF-1.4 bought pattern"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--side 4.01", ["--side", "sixteenths"]),
        ("--side 12", ["--side", "between"]),
        ("--side wide", ["--side", "'4 1/2 in'"]),
        ("card.png", [".pdf"]),
        ("--paper a5", ["--paper", "'letter'", "'a4'"]),
    ],
)
def test_wrong_words_for_a_card_are_refused_with_the_cure(run, words, said):
    status, out, err = run("card", *shlex.split(words))
    assert (status, out) == (2, "")
    assert all(part in " ".join(err.split()) for part in said)


# --- start-up ------------------------------------------------------------------------------------


def test_help_loads_nothing_heavy():
    code = (
        "import sys, motiffit.cli.app\nprint(*sorted({name.split('.')[0] for name in sys.modules}))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    heavy = {"cv2", "numpy", "PIL", "reportlab", "rich", "scipy", "skimage", "jinja2"}
    assert not heavy & set(done.stdout.split())


def test_screen_that_cannot_show_a_name_stops_nothing(folder):
    done = subprocess.run(
        [sys.executable, "-m", "motiffit", "size", "-q", "\u718a.jpg", "x.jpg"],
        capture_output=True, text=True, timeout=60, check=False,
        env={**os.environ, "PYTHONIOENCODING": "cp1252", "PYTHONUTF8": "0"},
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (1, "")
    assert done.stdout.startswith("?.jpg: Not measured")


def test_module_runs_as_the_command_does():
    done = subprocess.run(
        [sys.executable, "-m", "motiffit", "size", "--help"],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    assert done.stdout.startswith("Usage: ")
    assert "--overlay" in done.stdout


def test_no_command_is_described_by_half_a_sentence(run):
    _, out, _ = run("--help")
    commands = out.partition("Commands:")[2]
    assert commands.count("\n  ") == 6
    assert "..." not in commands
    assert "\u2026" not in commands


def test_a_side_without_a_unit_is_told_with_the_one_taken(run, sized):
    status, _, err = run("size", "photo.jpg", "--side", "4")
    assert (status, err) == (0, "motiffit: --side 4 is taken as 4 in\n")
    _, _, err = run("size", "photo.jpg", "--side", "10", "--units", "cm")
    assert err == "motiffit: --side 10 is taken as 100 mm\n"
    _, _, err = run("size", "photo.jpg", "--side", "4 in")
    assert err == ""

"""The pile on disk: records and corrections survive each other, crashes and odd names."""

import json
import os
import subprocess
import sys
import threading
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest
import records

from motiffit.corrections import CORRECTABLE, Corrections, answer_digest
from motiffit.errors import FileError, UsageError
from motiffit.ledger import Ledger, natural_key
from motiffit.lock import Busy, hold
from motiffit.places import read_places, write_places
from motiffit.renamed import follow_renamed
from motiffit.settings import Settings

NAMES = [
    "plain.jpg",
    "two words.JPG",
    "-rf.jpeg",
    "b\u00e9b\u00e9 \u8863.png",
    "line\nbreak.heic",
    "=1+1.webp",
    "<img src=x onerror=alert(1)>.jpg",
    "CON.jpg",
    os.fsdecode(b"not\xffunicode.jpg"),
]


def make_pile(folder, *names):
    for name in names or ("a.jpg",):
        (folder / name).write_bytes(name.encode("utf-8", "surrogateescape"))
    return Ledger.open(folder)


def put(ledger, photo, *, settings=None, **case):
    settings = settings or Settings()
    heeded = ledger.said(photo).heeded(settings)
    sizing = records.make_sizing(records.Case(photo=photo, settings=heeded, **case))
    assert ledger.write(photo, sizing, photo_hash=ledger.hash_of(photo), settings=settings)
    return sizing


def test_record_comes_back_as_it_was(tmp_path):
    ledger = make_pile(tmp_path)
    sizing = put(ledger, "a.jpg")
    entry = ledger.entry("a.jpg")
    assert entry.sizing == sizing
    assert entry.is_current(ledger.hash_of("a.jpg"), Settings())


@pytest.mark.parametrize("name", NAMES)
def test_any_name_keeps_its_own_record(tmp_path, name):
    ledger = make_pile(tmp_path, *NAMES)
    for other in NAMES:
        put(ledger, other)
        ledger.tell(other, {"note": f"of {NAMES.index(other)}"}, by="test")
    assert ledger.entry(name).photo == name
    assert ledger.said(name).note == f"of {NAMES.index(name)}"
    assert {entry.photo for entry in ledger.entries()} == set(NAMES)


def test_nothing_is_written_beside_the_piles_own_folder(tmp_path):
    ledger = make_pile(tmp_path, *NAMES)
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    with ledger.running():
        for name in NAMES:
            put(ledger, name)
    after = {path.name: path.read_bytes() for path in tmp_path.iterdir() if path.is_file()}
    assert after == before
    assert {path.name for path in tmp_path.iterdir() if path.is_dir()} == {"motiffit"}


def test_changed_photo_setting_or_program_is_out_of_date(tmp_path, monkeypatch):
    ledger = make_pile(tmp_path)
    put(ledger, "a.jpg")
    entry = ledger.entry("a.jpg")
    same = ledger.hash_of("a.jpg")
    (tmp_path / "a.jpg").write_bytes(b"another")
    assert not entry.is_current(ledger.hash_of("a.jpg"), Settings())
    assert not entry.is_current(same, Settings(clearance_mm=5.0))
    monkeypatch.setattr("motiffit.ledger.program_version", lambda: "99.0")
    assert not entry.is_current(same, Settings())


@pytest.mark.parametrize("code", ["out-of-memory", "file-denied", "worker-died"])
def test_refusals_of_the_machine_are_not_remembered(tmp_path, code):
    ledger = make_pile(tmp_path)
    sizing = records.make_refused(code, photo="a.jpg", reason="no")
    ledger.write("a.jpg", sizing, photo_hash=ledger.hash_of("a.jpg"), settings=Settings())
    assert not ledger.entry("a.jpg").is_current(ledger.hash_of("a.jpg"), Settings())


def test_refusals_of_the_photo_are_remembered(tmp_path):
    ledger = make_pile(tmp_path)
    sizing = records.make_refused(photo="a.jpg")
    ledger.write("a.jpg", sizing, photo_hash=ledger.hash_of("a.jpg"), settings=Settings())
    assert ledger.entry("a.jpg").is_current(ledger.hash_of("a.jpg"), Settings())


def test_a_correction_makes_the_record_out_of_date_and_a_stale_one_is_not_kept(tmp_path):
    ledger = make_pile(tmp_path)
    before = put(ledger, "a.jpg")
    ledger.tell("a.jpg", {"pick": 2}, by="test")
    entry = ledger.entry("a.jpg")
    assert not entry.is_current(ledger.hash_of("a.jpg"), Settings())
    stale = replace(before, outcome="check")
    kept = ledger.write("a.jpg", stale, photo_hash=ledger.hash_of("a.jpg"), settings=Settings())
    assert not kept
    assert ledger.entry("a.jpg").sizing == before


def test_notes_do_not_make_the_record_out_of_date(tmp_path):
    ledger = make_pile(tmp_path)
    put(ledger, "a.jpg")
    ledger.tell("a.jpg", {"zip": True, "note": "of Tom", "garment": "romper"}, by="test")
    entry = ledger.entry("a.jpg")
    assert entry.is_current(ledger.hash_of("a.jpg"), Settings())
    assert entry.said.flags == ("zip",)
    assert entry.to_dict()["said"] == {"zip": True, "note": "of Tom", "garment": "romper"}


def test_sizing_again_keeps_every_correction(tmp_path):
    ledger = make_pile(tmp_path)
    said = ledger.tell("a.jpg", {"pick": 1, "note": "blue", "size_mm": 101.6}, by="test")
    put(ledger, "a.jpg")
    assert ledger.said("a.jpg") == said


def test_photos_gone_are_reported_with_their_corrections_kept(tmp_path):
    ledger = make_pile(tmp_path, "a.jpg", "b.jpg", "c.jpg")
    put(ledger, "a.jpg")
    put(ledger, "b.jpg")
    ledger.tell("c.jpg", {"note": "kept"}, by="test")
    for name in ("b.jpg", "c.jpg"):
        (tmp_path / name).unlink()
    assert ledger.gone() == ("b.jpg", "c.jpg")
    assert [entry.photo for entry in ledger.entries()] == ["a.jpg"]
    assert ledger.said("c.jpg").note == "kept"


def test_what_was_said_follows_a_photo_to_its_new_name(tmp_path):
    ledger = make_pile(tmp_path, "a.jpg", "b.jpg")
    sizing = put(ledger, "a.jpg")
    put(ledger, "b.jpg")
    accepted = answer_digest(sizing, ledger.hash_of("a.jpg"))
    ledger.tell("a.jpg", {"note": "of Tom", "pick": 1, "accepted": accepted}, by="test")
    (tmp_path / "a.jpg").rename(tmp_path / "Toms.jpg")
    (tmp_path / "other.jpg").write_bytes(b"another photo")
    assert follow_renamed(ledger) == {"Toms.jpg": "a.jpg"}
    said = ledger.said("Toms.jpg")
    assert (said.note, said.pick, said.accepted) == ("of Tom", 1, accepted)
    assert ledger.said("other.jpg") == Corrections()
    assert ledger.gone() == (), "the old name is forgotten"
    assert follow_renamed(ledger) == {}, "once only: what is said of it later stands"


def test_another_photo_under_the_old_name_inherits_nothing(tmp_path):
    ledger = make_pile(tmp_path, "IMG_0001.jpg")
    put(ledger, "IMG_0001.jpg")
    words = {"garment": "fox", "outline_px": [[1, 1], [30, 30]], "size_mm": 76.2}
    ledger.tell("IMG_0001.jpg", words, by="test")
    (tmp_path / "IMG_0001.jpg").rename(tmp_path / "fox.jpg")
    follow_renamed(ledger)
    (tmp_path / "IMG_0001.jpg").write_bytes(b"the camera began to count anew")
    assert ledger.said("IMG_0001.jpg") == Corrections()
    assert ledger.said("fox.jpg").garment == "fox"


def test_a_name_that_was_taken_again_at_once_inherits_nothing_either(tmp_path):
    ledger = make_pile(tmp_path, "IMG_0001.jpg")
    put(ledger, "IMG_0001.jpg")
    ledger.tell("IMG_0001.jpg", {"garment": "fox"}, by="test")
    (tmp_path / "IMG_0001.jpg").rename(tmp_path / "fox.jpg")
    (tmp_path / "IMG_0001.jpg").write_bytes(b"the camera began to count anew")
    assert follow_renamed(ledger) == {"fox.jpg": "IMG_0001.jpg"}
    assert ledger.said("IMG_0001.jpg") == Corrections()
    assert ledger.entry("IMG_0001.jpg") is None
    assert ledger.said("fox.jpg").garment == "fox"


def test_a_copy_takes_nothing_from_the_photo(tmp_path):
    ledger = make_pile(tmp_path, "a.jpg")
    put(ledger, "a.jpg")
    said = ledger.tell("a.jpg", {"garment": "fox"}, by="test")
    (tmp_path / "b.jpg").write_bytes((tmp_path / "a.jpg").read_bytes())
    assert follow_renamed(ledger) == {}
    assert ledger.said("a.jpg") == said


def test_a_renamed_photo_keeps_its_place_in_the_quilt(tmp_path):
    ledger = make_pile(tmp_path, "a.jpg", "b.jpg")
    put(ledger, "a.jpg")
    put(ledger, "b.jpg")
    write_places(ledger, {"a.jpg": (1, 2), "b.jpg": (2, 1)})
    (tmp_path / "a.jpg").rename(tmp_path / "fox.jpg")
    follow_renamed(ledger)
    assert read_places(ledger) == {"fox.jpg": (1, 2), "b.jpg": (2, 1)}
    assert ledger.gone() == ()


@pytest.mark.parametrize("files", range(4))
def test_a_crash_while_a_name_is_followed_loses_nothing(tmp_path, monkeypatch, files):
    ledger = make_pile(tmp_path, "a.jpg")
    put(ledger, "a.jpg")
    ledger.tell("a.jpg", {"garment": "fox", "pick": 2}, by="test")
    write_places(ledger, {"a.jpg": (1, 2)})
    (tmp_path / "a.jpg").rename(tmp_path / "fox.jpg")

    class Crash(Exception):
        pass

    left = iter(range(files))

    def crash_after(act):
        def do(*args, **options):
            if next(left, None) is None:
                raise Crash
            return act(*args, **options)

        return do

    with monkeypatch.context() as crashing:
        crashing.setattr(Path, "replace", crash_after(Path.replace))  # ends each writing
        crashing.setattr(Ledger, "forget", crash_after(Ledger.forget))
        with pytest.raises(Crash) if files < 3 else nullcontext():
            follow_renamed(ledger)
    if files:
        ledger.tell("fox.jpg", {"note": "said meanwhile"}, by="page")
    follow_renamed(ledger)
    said = ledger.said("fox.jpg")
    assert (said.garment, said.pick) == ("fox", 2)
    assert said.note == ("said meanwhile" if files else None)
    assert read_places(ledger) == {"fox.jpg": (1, 2)}
    assert ledger.gone() == ()


@pytest.mark.parametrize(
    "damage", [b"", b"{", b"[]", b'{"schema": "motiffit.sizing/1"}', b"\x00" * 40, b"[" * 100_000]
)
def test_damaged_record_counts_as_not_sized(tmp_path, damage):
    ledger = make_pile(tmp_path)
    put(ledger, "a.jpg")
    next((tmp_path / "motiffit" / "records").iterdir()).write_bytes(damage)
    assert ledger.entry("a.jpg") is None
    put(ledger, "a.jpg")
    assert ledger.entry("a.jpg") is not None


def test_damaged_corrections_are_put_aside_not_overwritten(tmp_path):
    ledger = make_pile(tmp_path)
    ledger.tell("a.jpg", {"note": "first"}, by="test")
    file = next((tmp_path / "motiffit" / "corrections").iterdir())
    file.write_bytes(b'{"half')
    assert ledger.said("a.jpg") == Corrections()
    ledger.tell("a.jpg", {"note": "second"}, by="test")
    aside = [path for path in file.parent.iterdir() if "damaged" in path.name]
    assert [path.read_bytes() for path in aside] == [b'{"half']
    assert ledger.said("a.jpg").note == "second"


def test_links_that_lead_out_of_the_folder_are_not_followed(tmp_path):
    outside, inside = tmp_path / "outside", tmp_path / "photos"
    outside.mkdir()
    inside.mkdir()
    (outside / "secret.jpg").write_bytes(b"secret")
    (inside / "real.jpg").write_bytes(b"real")
    (inside / "out.jpg").symlink_to(outside / "secret.jpg")
    (inside / "in.jpg").symlink_to("real.jpg")
    ledger = Ledger.open(inside)
    assert ledger.photos() == ("in.jpg", "real.jpg")
    assert ledger.strays() == ("out.jpg",)


def test_pile_that_is_a_link_is_not_written_through(tmp_path):
    outside, inside = tmp_path / "outside", tmp_path / "photos"
    outside.mkdir()
    inside.mkdir()
    (inside / "motiffit").symlink_to(outside)
    with pytest.raises(FileError, match="link"):
        Ledger.open(inside)
    assert not list(outside.iterdir())


def test_reading_only_writes_nothing(tmp_path):
    (tmp_path / "a.jpg").write_bytes(b"a")
    with pytest.raises(FileError, match="motiffit pile"):
        Ledger.open(tmp_path, create=False)
    assert [path.name for path in tmp_path.iterdir()] == ["a.jpg"]


@pytest.mark.parametrize("name", ["", ".", "..", "../a.jpg", "a/b.jpg", "a\\b.jpg", "a\0.jpg"])
def test_only_plain_names_have_a_path(tmp_path, name):
    with pytest.raises(ValueError, match="not the name"):
        make_pile(tmp_path).path_of(name)


def test_names_in_a_persons_order():
    names = ["IMG_10.jpg", "IMG_9.jpg", "img_1.jpg", "b.jpg", "10.jpg", "9.jpg", "\u00b2.jpg"]
    ordered = sorted(names, key=natural_key)
    assert ordered.index("9.jpg") < ordered.index("10.jpg")
    assert ordered.index("img_1.jpg") < ordered.index("IMG_9.jpg") < ordered.index("IMG_10.jpg")


# -- a person's words -------------------------------------------------------------------------


def test_later_word_wins_field_by_field():
    first = Corrections().told({"note": "a", "zip": True}, at="t1", by="one")
    second = first.told({"note": "b"}, at="t2", by="two")
    assert (second.note, second.zip) == ("b", True)
    assert second.changed_since(first.revision) == ("note",)
    assert second.stamps["note"].by == "two"


def test_a_word_can_be_taken_back():
    said = Corrections().told({"size_mm": 101.6}, at="t", by="x").told({"size_mm": None}, at="t",
                                                                      by="x")  # fmt: skip
    assert said.heeded(Settings()) == Settings()
    assert said.changed_since(1) == ("size_mm",)


@pytest.mark.parametrize(
    ("change", "setting"),
    [
        ({"pick": 2}, {"pick": 2}),
        ({"near_px": [3, 4]}, {"near_px": (3.0, 4.0)}),
        ({"outline_px": [[1, 2], [3, 4]]}, {"outline_px": ((1.0, 2.0), (3.0, 4.0))}),
        ({"no_motif": True}, {"no_motif": True}),
        ({"size_mm": 127.0}, {"sizes_mm": (127.0,)}),
        ({"place": [5, 6, -3]}, {"place": (5.0, 6.0, -3.0)}),
    ],
)
def test_corrections_take_the_place_of_settings(change, setting):
    said = Corrections().told({"pick": 1}, at="t", by="x").told(change, at="t", by="x")
    kept = {"pick": 1} if {"sizes_mm", "place"} & setting.keys() else {}
    assert said.heeded(Settings(pick=3)) == replace(Settings(), **kept, **setting)


def test_corrections_come_back_from_json():
    said = Corrections().told(
        {"outline_px": [[1, 2], [3, 4.5]], "zip": False, "garment": " romper "}, at="t", by="x"
    )
    again = Corrections.from_dict(json.loads(json.dumps(said.to_dict())))
    assert again == said
    assert again.garment == "romper"


@pytest.mark.parametrize(
    "change",
    [
        {"zip": "yes"}, {"size_mm": -1}, {"size_mm": float("inf")}, {"pick": 0}, {"pick": "x"},
        {"near_px": [1]}, {"near_px": [1, float("nan")]}, {"place": [1, 2]}, {"outline_px": 5},
        {"note": 5}, {"revision": 3}, {"colour": "red"},
        {"side_mm": 1200.0}, {"size_mm": 2001.0}, {"outline_px": [[1, 2]]},
    ],
)  # fmt: skip
def test_what_cannot_be_a_correction_is_a_wrong_call(change):
    with pytest.raises(ValueError, match=r"cannot be|yes or no|not a correction"):
        Corrections().told(change, at="t", by="x")


def test_what_no_photo_can_be_asked_is_not_read_from_the_disk(tmp_path):
    ledger = make_pile(tmp_path)
    ledger.keep_asked(Settings(side_mm=100.0))
    ledger.tell("a.jpg", {"side_mm": 100.0}, by="test")
    for path in (tmp_path / "motiffit").rglob("*.json"):
        path.write_text(path.read_text().replace("100.0", "1200.0"))
    assert ledger.asked() is None
    assert ledger.said("a.jpg") == Corrections()
    put(ledger, "a.jpg")
    assert ledger.tell("a.jpg", {"side_mm": 90.0}, by="test").side_mm == 90.0


def test_every_field_can_be_said_and_taken_back():
    samples = {"garment": "g", "note": "n", "size_mm": 50.0, "outline_px": [[0, 0], [9, 9]],
               "near_px": [1, 1], "pick": 1, "place": [1, 2, 3], "accepted": "digest",
               "side_mm": 90.0}  # fmt: skip
    for name in CORRECTABLE:
        said = Corrections().told({name: samples.get(name, True)}, at="t", by="x")
        assert getattr(said, name) is not None
        assert getattr(said.told({name: None}, at="t", by="x"), name) is None


def test_no_motif_excludes_pointing_at_one():
    with pytest.raises(UsageError):
        Settings(no_motif=True, pick=1)


def test_acceptance_holds_for_the_answer_that_was_seen(tmp_path):
    ledger = make_pile(tmp_path)
    sizing = put(ledger, "a.jpg")
    ledger.tell("a.jpg", {"accepted": answer_digest(sizing, ledger.hash_of("a.jpg"))}, by="test")
    assert ledger.entry("a.jpg").is_accepted
    put(ledger, "a.jpg", codes=("garment-unclear",))
    assert ledger.entry("a.jpg").is_accepted, "a message more is the same answer"
    put(ledger, "a.jpg", motifs_mm=((200.0, -170.0, 78.0, 72.0),))
    assert not ledger.entry("a.jpg").is_accepted, "the square moved by 10 mm"


# -- two at once ------------------------------------------------------------------------------


def test_second_run_on_the_same_folder_is_turned_away(tmp_path):
    ledger = make_pile(tmp_path)
    with ledger.running():
        with pytest.raises(Busy, match="in use"), ledger.running():
            pass
        ledger.tell("a.jpg", {"note": "meanwhile"}, by="test")
    with ledger.running():
        pass
    assert ledger.said("a.jpg").note == "meanwhile"


def test_lock_is_free_again_after_its_holder_was_killed(tmp_path):
    path = tmp_path / "lock"
    script = (
        "import sys, pathlib; from motiffit.lock import hold\n"
        "with hold(pathlib.Path(sys.argv[1]), wait_s=0): print('held', flush=True); input()"
    )
    holder = subprocess.Popen(
        [sys.executable, "-c", script, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    with holder:
        assert holder.stdout.readline() == "held\n"
        with pytest.raises(Busy), hold(path, wait_s=0):
            pass
        holder.kill()
    with hold(path, wait_s=0):
        assert path.exists()


def test_many_writers_lose_no_word(tmp_path):
    ledger = make_pile(tmp_path)
    fields = ["garment", "note", "zip", "snaps", "raised", "vinyl"]

    def write(field):
        for count in range(10):
            value = f"{count}" if field in ("garment", "note") else count % 2 == 1
            ledger.tell("a.jpg", {field: value}, by=field)

    threads = [threading.Thread(target=write, args=(field,)) for field in fields]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    said = ledger.said("a.jpg")
    assert said.revision == 10 * len(fields)
    assert (said.garment, said.note, said.zip, said.snaps, said.raised, said.vinyl) == (
        "9", "9", True, True, True, True,
    )  # fmt: skip


def test_leftovers_of_a_crash_are_swept_but_not_what_is_being_written(tmp_path):
    ledger = make_pile(tmp_path)
    records_folder = tmp_path / "motiffit" / "records"
    old, new = records_folder / ".motiffit-old.part", records_folder / ".motiffit-new.part"
    for path in (old, new):
        path.write_bytes(b"half")
    os.utime(old, (0, 0))
    with ledger.running():
        assert not old.exists()
        assert new.exists()


def test_folder_that_is_not_there(tmp_path):
    with pytest.raises(FileError, match="no folder"):
        Ledger.open(tmp_path / "nowhere")


def test_folder_that_cannot_be_written(tmp_path, monkeypatch):
    def denied(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("motiffit.files._create", denied)
    with pytest.raises(FileError, match="Permission denied"):
        Ledger.open(tmp_path)

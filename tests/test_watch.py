"""Following a folder: photos are sized once they are whole."""

import os
import signal
import threading

import piles
from test_pile_faults import WAIT_S, wait_for

from motiffit.garments import TABLE_NAME
from motiffit.ledger import Ledger
from motiffit.watch import QUIET_S, Settling, signatures


def test_growing_file_is_left_alone_until_it_is_quiet():
    settling = Settling({})
    assert settling.look({"a": (10, 1)}, now_s=0.0) == []
    assert settling.look({"a": (20, 2)}, now_s=5.0) == [], "it grew meanwhile"
    assert settling.look({"a": (20, 2)}, now_s=5.0 + QUIET_S / 2) == []
    assert settling.look({"a": (20, 2)}, now_s=5.0 + QUIET_S) == ["a"]
    assert settling.look({"a": (20, 2)}, now_s=99.0) == [], "told once"


def test_file_set_aside_at_full_size_is_told_again_when_its_content_comes():
    settling = Settling({})
    settling.look({"a": (20, 1)}, now_s=0.0)
    assert settling.look({"a": (20, 1)}, now_s=9.0) == ["a"]
    settling.look({"a": (20, 2)}, now_s=10.0)
    assert settling.look({"a": (20, 2)}, now_s=19.0) == ["a"]


def test_empty_file_waits():
    settling = Settling({})
    settling.look({"a": (0, 1)}, now_s=0.0)
    assert settling.look({"a": (0, 1)}, now_s=99.0) == []


def test_known_files_are_not_told_and_lost_ones_forgotten():
    settling = Settling({"old": (5, 1)})
    settling.look({"old": (5, 1), "new": (6, 1)}, now_s=0.0)
    assert settling.look({"old": (5, 1), "new": (6, 1)}, now_s=9.0) == ["new"]
    settling.look({"new": (6, 1)}, now_s=10.0)
    settling.look({"old": (5, 1), "new": (6, 1)}, now_s=11.0)
    assert settling.look({"old": (5, 1), "new": (6, 1)}, now_s=20.0) == ["old"]


def test_signatures_are_those_of_photos_alone(tmp_path):
    piles.make_photos(tmp_path, 2)
    (tmp_path / "notes.txt").write_text("x")
    (tmp_path / ".IMG_9.jpg.part").write_text("x")
    assert set(signatures(Ledger.open(tmp_path))) == {"IMG_1.jpg", "IMG_2.jpg"}


def test_photos_that_arrive_are_sized_whole(tmp_path):
    piles.make_photos(tmp_path, 1)
    run = piles.start(tmp_path, "quick_work", "--watch", "--jobs", "1")
    ledger = Ledger.open(tmp_path)
    wait_for(lambda: (ledger.home / "index.html").exists(), run)
    (tmp_path / "late.jpg").write_bytes(b"first half ")
    with (tmp_path / "late.jpg").open("ab") as file:
        file.write(b"second half")
    wait_for(lambda: ledger.entry("late.jpg") is not None, run)
    assert ledger.entry("late.jpg").photo_hash == ledger.hash_of("late.jpg")
    guard = threading.Timer(WAIT_S, run.kill)
    guard.start()
    assert any(line.startswith("late.jpg: ") for line in run.stdout), "its answer is printed"
    guard.cancel()
    assert b"late.jpg" in (ledger.home / "pile.csv").read_bytes()
    os.killpg(run.pid, signal.SIGINT)
    _, err = run.communicate(timeout=WAIT_S)
    assert run.returncode == 130
    assert "Waiting for photos" in err
    assert "Traceback" not in err


def test_a_table_with_a_mistake_does_not_end_the_watch(tmp_path):
    piles.make_photos(tmp_path, 1)
    table = tmp_path / TABLE_NAME
    table.write_text("photo,garment\nIMG_1.jpg,romper\n")
    run = piles.start(tmp_path, "quick_work", "--watch", "--jobs", "1")
    ledger = Ledger.open(tmp_path)
    wait_for(lambda: (ledger.home / "index.html").exists(), run)
    table.write_text("photo,garment,keep\nIMG_1.jpg,bib,perhaps\n")
    (tmp_path / "late.jpg").write_bytes(b"photo")
    wait_for(lambda: ledger.entry("late.jpg") is not None, run)
    assert ledger.said("IMG_1.jpg").garment == "romper", "what the table said before stands"
    os.killpg(run.pid, signal.SIGINT)
    _, err = run.communicate(timeout=WAIT_S)
    assert run.returncode == 130
    assert "line 2: under 'keep' write yes or no, not 'perhaps'" in " ".join(err.split())

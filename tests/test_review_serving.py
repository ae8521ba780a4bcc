"""The page as a process: killed, stopped, started twice, opened to a network."""

import shutil
import signal
import socket
import threading
import time
from pathlib import Path

import httpx2
import pytest
from killing import CORRECTIONS, check_after, correction, kill_after
from reviewing import make_photos, open_page
from served import Served

from motiffit.errors import UsageError
from motiffit.ledger import Ledger
from motiffit.pile import pile_settings
from motiffit.review import running
from motiffit.review.guard import Gate
from motiffit.review.running import Links
from motiffit.settings import Settings


@pytest.fixture(scope="module")
def pile(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pile") / "photos"
    folder.mkdir()
    make_photos(folder, "shirt.png")
    open_page(folder).review.tidings.size("shirt.png")
    return folder


@pytest.mark.parametrize("acknowledged", [1, 60, 150])
def test_killed_in_the_middle_of_corrections_at_most_the_last_is_missing(
    tmp_path, pile, acknowledged
):
    folder = Path(shutil.copytree(pile, tmp_path / "photos"))
    done = kill_after(folder, "shirt.png", acknowledged)
    assert acknowledged <= done < CORRECTIONS, "it was killed in the middle"
    check_after(folder, "shirt.png", done)
    said = Ledger.open(folder).said("shirt.png")
    key = Ledger.open(folder).picture_of("shirt.png").stem
    with Served(folder) as again, again.client() as client:
        shown = client.get(f"/api/garments/{key}").json()
    assert (shown["said"]["note"], shown["said"]["revision"]) == (said.note, said.revision)
    assert (
        Ledger.open(folder)
        .entry("shirt.png")
        .is_current(Ledger.open(folder).hash_of("shirt.png"), Settings())
    )


def test_the_check_after_a_kill_sees_what_is_missing_or_torn(tmp_path, pile):
    folder = Path(shutil.copytree(pile, tmp_path / "photos"))
    ledger = Ledger.open(folder)
    for number in range(5):
        ledger.tell("shirt.png", correction(number), by="test")
    assert check_after(folder, "shirt.png", 5) is False
    assert check_after(folder, "shirt.png", 4) is True
    for wrong in (3, 6):
        with pytest.raises(AssertionError):
            check_after(folder, "shirt.png", wrong)
    ledger.tell("shirt.png", {"note": "another word"}, by="test")
    with pytest.raises(AssertionError):
        check_after(folder, "shirt.png", 6)
    (folder / "motiffit" / "records" / "torn.json").write_text('{"schema": ')
    with pytest.raises(ValueError, match="Expecting value"):
        check_after(folder, "shirt.png", 6)


@pytest.mark.skipif(not hasattr(signal, "SIGINT"), reason="no Ctrl-C here")
def test_ctrl_c_ends_it_and_the_overview_is_up_to_date(tmp_path, pile):
    folder = shutil.copytree(pile, tmp_path / "photos")
    key = Ledger.open(folder).picture_of("shirt.png").stem
    with Served(folder) as served, served.client() as client:
        words = {"changes": {"note": "soft"}, "revision": 0}
        assert client.post(f"/api/garments/{key}/say", json=words).status_code == 200
        assert served.stop(signal.SIGINT) in (0, 130)
        assert "Traceback" not in "".join(served.lines)
    assert "soft" in (folder / "motiffit" / "pile.csv").read_text()


def test_another_start_makes_old_links_and_cookies_worthless(tmp_path, pile):
    folder = shutil.copytree(pile, tmp_path / "photos")
    with Served(folder) as first, first.client() as client:
        word = first.link.rpartition("/")[2]
        cookie = next(iter(client.cookies.values()))
    with Served(folder) as second:
        name = f"motiffit_{second.address.rpartition(':')[2]}"
        with httpx2.Client(base_url=second.address, cookies={name: cookie}) as old:
            assert old.get("/api/pile").status_code == 401
            assert old.get(f"/enter/{word}").status_code == 403


def test_nothing_listens_beyond_this_computer_unless_asked(tmp_path):
    sockets = running._listen(["127.0.0.1"], 0)
    try:
        assert [listener.getsockname()[0] for listener in sockets] == ["127.0.0.1"]
    finally:
        for listener in sockets:
            listener.close()


def test_a_port_that_is_taken_is_passed_over_or_named():
    first = running._listen(["127.0.0.1"], 0)
    taken = first[0].getsockname()[1]
    try:
        with pytest.raises(UsageError, match=f"port {taken} is taken"):
            running._listen(["127.0.0.1"], taken)
    finally:
        for listener in first:
            listener.close()


def test_without_a_network_lan_is_refused(monkeypatch):
    class NoNetwork:
        def __enter__(self):
            return self

        def __exit__(self, *_):
            pass

        def connect(self, _):
            raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(socket, "socket", lambda *_args: NoNetwork())
    with pytest.raises(UsageError, match="no network"):
        running._network_address()


def test_the_phone_is_told_by_link_and_by_code():
    started = Links(gate=Gate(), addresses=("127.0.0.1:1", "192.0.2.7:1")).at_start()
    assert started.link.startswith("http://127.0.0.1:1/enter/")
    assert started.phone_link.startswith("http://192.0.2.7:1/enter/")
    assert len(started.phone_code.splitlines()) > 15
    alone = Links(gate=Gate(), addresses=("127.0.0.1:1",)).at_start()
    assert alone.phone_link is None
    assert alone.phone_code == ""


def test_a_running_page_and_a_run_over_the_pile_lose_no_correction(tmp_path, pile):
    from motiffit.pile import size_pile
    from motiffit.runners import SerialRunner

    folder = shutil.copytree(pile, tmp_path / "photos")
    ledger = Ledger.open(folder)
    key = ledger.picture_of("shirt.png").stem
    with Served(folder) as served, served.client() as client:
        client.get(f"/api/garments/{key}")
        rounds = threading.Thread(
            target=lambda: [
                list(size_pile(ledger, Settings(), SerialRunner(), ["shirt.png"])) for _ in range(2)
            ]
        )
        rounds.start()
        for number in range(1, 16):
            words = {"changes": {"size_mm": 76.2 + number}, "revision": 0}
            assert client.post(f"/api/garments/{key}/say", json=words).status_code == 200
            time.sleep(0.05)
        rounds.join()
    entry = ledger.entry("shirt.png")
    assert entry.said.size_mm == pytest.approx(76.2 + number)
    assert entry.sizing.settings.sizes_mm == (entry.said.size_mm,)
    assert pile_settings(ledger) is None

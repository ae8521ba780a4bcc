"""Corrections at full speed, the page's server killed in the middle, and what is found after."""

import json
import signal
import threading
import time

import httpx2
from served import Served

from motiffit.corrections import Corrections
from motiffit.ledger import Ledger

CORRECTIONS = 200
_WAIT_S = 600  # a machine that is busy with other things


def correction(number):
    """The n-th correction as the page sends it: now a note, now a size, now a flag."""
    kinds = ({"note": f"word {number}"}, {"size_mm": 76.2 + number / 8}, {"zip": number % 2 == 0})
    return kinds[number % len(kinds)]


def expected(count):
    """What was said after so many corrections, all stamps left out."""
    said = Corrections()
    for number in range(count):
        said = said.told(correction(number), at="", by="")
    return {name: getattr(said, name) for name in ("note", "size_mm", "zip", "revision")}


def kill_after(folder, photo, acknowledged, *, delay_s=0.0):
    """Correct a photo, and kill the server once so many corrections were acknowledged.

    Returns
    -------
    int
        How many were acknowledged when it died.
    """
    key = Ledger.open(folder).picture_of(photo).stem
    done = []
    enough = threading.Event()
    with Served(folder) as served, served.client() as client:
        client.get(f"/api/garments/{key}")

        def correct():
            for number in range(CORRECTIONS):
                words = {"changes": correction(number), "revision": number}
                try:
                    answer = client.post(f"/api/garments/{key}/say", json=words)
                except httpx2.HTTPError:
                    return
                assert answer.status_code == 200, answer.text
                done.append(number)
                if len(done) >= acknowledged:
                    enough.set()

        speaker = threading.Thread(target=correct)
        speaker.start()
        assert enough.wait(_WAIT_S)
        time.sleep(delay_s)
        served.stop(signal.SIGKILL)
        speaker.join()
    return len(done)


def check_after(folder, photo, acknowledged):
    """Assert that at most the correction under way is missing and nothing is torn.

    Returns
    -------
    bool
        Whether the one under way was kept although nobody was told so.
    """
    for path in (folder / "motiffit").rglob("*.json"):
        json.loads(path.read_bytes())  # whole, each of them
    ledger = Ledger.open(folder)
    assert ledger.photos() == (photo,)
    said = ledger.said(photo)
    assert said.revision - acknowledged in (0, 1)
    found = {name: getattr(said, name) for name in ("note", "size_mm", "zip", "revision")}
    assert found == expected(said.revision)
    assert ledger.entry(photo) is not None, "the record can still be read"
    return said.revision > acknowledged

"""A review page for the tests: real photos, worked on in this process, behind the guard."""

from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path

from scenes import make_scene, render, save_photo
from starlette.testclient import TestClient

from motiffit.files import content_hash
from motiffit.ledger import Ledger
from motiffit.review.guard import Gate
from motiffit.review.jobs import open_photo
from motiffit.review.running import Links, Review, assemble
from motiffit.settings import Settings

HOST = "127.0.0.1:8479"
OWN = {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-origin"}


class DirectWorkshop:
    """Does jobs at once and here; what `motiffit.review.workshop.Workshop` does in processes."""

    def __init__(self):
        self.calls = []

    def give(self, call, *arguments, is_urgent=True):
        self.calls.append(call.__name__)
        future = Future()
        try:
            future.set_result(_opened(*arguments) if call is open_photo else call(*arguments))
        except Exception as error:
            future.set_exception(error)
        return future

    def close(self):
        pass


_OPENED = {}


def _opened(path, settings):
    """Survey a photo once for all tests that look at the same one."""
    key = content_hash(Path(path)), settings.fingerprint()
    if key not in _OPENED:
        _OPENED[key] = open_photo(path, settings)
    return _OPENED[key]


@dataclass
class Page:
    """A browser that was let in, and what lies behind the page."""

    client: TestClient
    ledger: Ledger
    review: Review
    links: Links
    workshop: DirectWorkshop

    def key(self, photo):
        return self.ledger.picture_of(photo).stem

    def look(self, photo):
        return self.client.get(f"/api/garments/{self.key(photo)}").json()

    def say(self, photo, changes, *, revision=10**6, **more):
        words = {"changes": changes, "revision": revision, **more}
        return self.client.post(f"/api/garments/{self.key(photo)}/say", json=words, headers=OWN)

    def sent(self, photo, changes):
        words = {"changes": changes}
        return self.client.post(f"/api/garments/{self.key(photo)}/try", json=words, headers=OWN)

    def add(self, name, content):
        return self.client.post("/api/photos", params={"name": name}, content=content, headers=OWN)


def stranger(review):
    """A browser that was not let in."""
    return TestClient(review.app, base_url=f"http://{HOST}", raise_server_exceptions=False)


def open_page(folder: Path, settings: Settings | None = None, *, lan: bool = False) -> Page:
    """Serve the pile of a folder to one browser."""
    ledger = Ledger.open(folder)
    workshop = DirectWorkshop()
    links = Links(gate=Gate(), addresses=(HOST, "192.0.2.7:8479") if lan else (HOST,))
    review = assemble(ledger, settings or Settings(), workshop, links)
    client = stranger(review)
    assert client.get(f"/enter/{links.gate.new_link()}").status_code == 200
    return Page(client=client, ledger=ledger, review=review, links=links, workshop=workshop)


def make_photos(folder: Path, *names: str, seed: int = 11) -> None:
    """Render one garment and save it under each name."""
    scene = make_scene(seed, tilt_deg=4.0)
    picture = render(scene)
    first = folder / names[0]
    save_photo(picture, first, focal_35mm=scene.camera.focal_35mm)
    for name in names[1:]:
        (folder / name).write_bytes(first.read_bytes())

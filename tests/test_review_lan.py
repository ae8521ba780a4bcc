"""The page from a phone: a headless Chromium with a phone's screen and touch, over the network.

The phone talks to this machine's own address in its network, not to loopback. Skipped, but never
where CI is set, without a browser or on a machine that is on no network.
"""

import os
import re
import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from browsing import running_browser
from served import Served

from motiffit.errors import UsageError
from motiffit.ledger import Ledger
from motiffit.review.running import _network_address
from motiffit.sizing import size_photo

SAMPLES = Path(__file__).parent.parent / "sample_images"
PHONE = {
    "viewport": {"width": 390, "height": 844},
    "device_scale_factor": 3,
    "is_mobile": True,
    "has_touch": True,
}
WAIT_MS = 60_000
MODULE_PX = 6  # of a code drawn for the reader: any scale that is no fraction of a module would do

api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
expect = api.expect


@pytest.fixture(scope="module")
def browser():
    expect.set_options(timeout=WAIT_MS)
    with running_browser() as browser:
        yield browser


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    try:
        address = _network_address()
    except UsageError:
        assert not os.environ.get("CI"), "CI must have a network"
        pytest.skip("this machine is on no network")
    folder = tmp_path_factory.mktemp("pile") / "outgrown"
    folder.mkdir()
    with Served(folder, ("--lan",)) as served:
        assert served.phone_link.startswith(f"http://{address}:")
        yield served


@pytest.fixture
def phone(browser, served):
    """A phone that was let in by a link of its own; what goes wrong on its page is kept."""
    context = browser.new_context(**PHONE)
    page = context.new_page()
    page.set_default_timeout(WAIT_MS)
    page.wrong = []
    page.on("pageerror", lambda error: page.wrong.append(f"{error}"))
    page.on("console", lambda line: line.type == "error" and note(page, line.text))
    page.on(
        "request",
        lambda request: (
            request.url.startswith((origin_of(served.phone_link), "blob:"))
            or page.wrong.append(f"left for {request.url}")
        ),
    )
    page.goto(served.fresh_link())
    page.wait_for_selector(".shutter")
    yield page
    context.close()
    assert page.wrong == []


def note(page, words):
    """Keep an error, but for the one with which browsers meet this header without https."""
    if "Cross-Origin-Opener-Policy" not in words:
        page.wrong.append(words)


def origin_of(link):
    return link.partition("/enter/")[0]


def read_code(picture):
    """What a phone's camera reads from a picture of a code."""
    words, _, _ = cv2.QRCodeDetectorAruco().detectAndDecode(picture)  # the other misses 1 in 200
    return words


def drawn(lines):
    """A code of half blocks as light and dark modules, dark on light as on a dark terminal."""
    halves = {"\u2588": (255, 255), "\u2580": (255, 0), "\u2584": (0, 255), " ": (0, 0)}
    rows = [[halves[sign][half] for sign in line] for line in lines for half in (0, 1)]
    modules = np.array(rows, np.uint8)
    modules = np.pad(modules, 4, constant_values=255)
    return np.kron(modules, np.ones((MODULE_PX, MODULE_PX), np.uint8))


def shoot(page, photo, name="image.jpg"):
    """Take a photo as a phone does: every shot has the same name."""
    shot = {"name": name, "mimeType": "image/jpeg", "buffer": (SAMPLES / photo).read_bytes()}
    page.set_input_files("#shot", shot)


def test_the_code_in_the_terminal_is_the_link(served):
    assert read_code(drawn(served.phone_code)) == served.phone_link


def test_the_link_that_was_printed_lets_one_phone_in(browser, served):
    first, second = browser.new_context(**PHONE), browser.new_context(**PHONE)
    page = first.new_page()
    page.goto(served.phone_link)
    page.wait_for_selector(".shutter")
    assert page.url == f"{origin_of(served.phone_link)}/phone"
    other = second.new_page()
    answer = other.goto(served.phone_link)
    assert answer.status == 403
    expect(other.locator("body")).to_contain_text("used before")
    assert other.goto(f"{origin_of(served.phone_link)}/phone").status == 401
    first.close()
    second.close()


def test_the_code_on_the_page_lets_the_next_phone_in(browser, served):
    desk = browser.new_context(viewport={"width": 1280, "height": 900})
    page = desk.new_page()
    page.goto(served.fresh_link().replace(origin_of(served.phone_link), served.address))
    page.wait_for_selector(".shutter")
    page.goto(served.address)
    page.click("#phone-link")
    expect(page.locator("#link-dialog")).to_contain_text(
        "Anyone who has the link on this network can see the photos."
    )
    link = page.locator("#link-text").inner_text()
    picture = cv2.imdecode(
        np.frombuffer(page.locator("#link-code").screenshot(), np.uint8), cv2.IMREAD_COLOR
    )
    assert read_code(picture) == link
    desk.close()
    guest = browser.new_context(**PHONE)
    assert guest.new_page().goto(link).status == 200
    guest.close()


def test_the_phones_page_says_who_can_see_the_photos(phone):
    expect(phone.locator("main")).to_contain_text(
        "Anyone who has this page's link on this network can see the photos."
    )


def test_a_shot_from_the_phone_is_in_the_pile_with_its_size(phone, served):
    shot = phone.locator("#shot")
    assert shot.get_attribute("capture") == "environment", "the camera opens, not the album"
    assert shot.get_attribute("accept") == "image/*"
    bear = SAMPLES / "bodysuit-embroidered-bear.jpg"
    sizing = size_photo(bear)
    shoot(phone, bear.name)
    expect(phone.locator(".verdict-words")).to_contain_text(f"Finished {sizing.window.finished}")
    expect(phone.locator("#answer")).to_contain_text(f"Cut {sizing.window.cut}")
    name = phone.locator("#taken bdi").first.inner_text()
    assert re.fullmatch(r"photo-20\d{6}-\d{6}\.jpg", name)
    assert (served.folder / name).read_bytes() == bear.read_bytes()
    assert Ledger.open(served.folder).entry(name).sizing.window == sizing.window
    expect(phone.locator("#answer img")).to_have_js_property("complete", True)
    phone.get_by_text("Look at it closely").tap()
    phone.wait_for_selector('#picture [data-part="window"]')


def test_a_bad_photo_is_answered_with_its_cure(phone):
    shoot(phone, "no-card-moon.jpg")
    expect(phone.locator(".verdict-words")).to_contain_text("Take it again")
    expect(phone.locator("#answer")).to_contain_text("Lay the printed card flat")
    shoot(phone, "dress-mushrooms.jpg")
    expect(phone.locator(".verdict-words")).to_contain_text("Finished")


def test_a_sticky_note_is_measured_from_once_the_phone_is_told_its_size(phone, served):
    shoot(phone, "sticky-note-boat.jpg", "boat.jpg")
    phone.get_by_label("How large is your square?").fill("3 in")
    phone.get_by_text("Measure with this").tap()
    expect(phone.locator(".verdict-words")).to_contain_text("Finished")
    assert Ledger.open(served.folder).said("boat.jpg").side_mm == pytest.approx(76.2)


NO_PHOTO = {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": b"no"}


def test_what_is_chosen_before_the_page_is_ready_is_not_lost(phone):
    held = []
    phone.route("**/static/phone.js", lambda route: held.append(route))
    phone.reload(wait_until="commit")
    phone.wait_for_selector(".shutter")
    phone.set_input_files("#album", NO_PHOTO)
    phone.wait_for_function("document.readyState !== 'loading'")
    held[0].continue_()
    expect(phone.locator("#alarm")).to_contain_text("cannot be read")
    phone.wrong.clear()  # the refusal, a 415


def test_what_is_no_photo_is_said_so(phone, served):
    before = set(served.folder.iterdir())
    phone.set_input_files("#album", NO_PHOTO)
    expect(phone.locator("#alarm")).to_contain_text("cannot be read")
    assert set(served.folder.iterdir()) == before
    assert [line for line in phone.wrong if "415" not in line] == []
    phone.wrong.clear()


def test_the_page_on_loopback_is_not_the_phones(served, browser):
    # a cookie of one address is none at the other, and neither name leads to the other's links
    context = browser.new_context()
    page = context.new_page()
    page.goto(served.fresh_link())
    page.wait_for_selector(".shutter")
    assert page.goto(f"{served.address}/phone").status == 401
    context.close()


def test_the_album_takes_several(phone, served, tmp_path):
    shots = []
    for number in range(2):
        shots.append(Path(shutil.copy(SAMPLES / "bib-whale.jpg", tmp_path / f"whale {number}.jpg")))
    phone.set_input_files("#album", shots)
    expect(phone.locator("#taken li")).to_have_count(2)
    assert {"whale 0.jpg", "whale 1.jpg"} <= set(Ledger.open(served.folder).photos())

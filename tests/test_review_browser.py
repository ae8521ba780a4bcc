"""The page in a real browser: by mouse, by keyboard, through a restart, for everyone.

Needs a Chromium and, for the accessibility rules, ``npm install --prefix tests`` (axe-core).
Skipped where one is missing, but never where CI is set.
"""

import os
import re
import shutil
import signal
from base64 import b64encode
from pathlib import Path

import pytest
from browsing import running_browser
from reviewing import make_photos, open_page
from served import Served
from typer.testing import CliRunner

from motiffit.cli.app import app
from motiffit.ledger import Ledger

AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
SAMPLES = Path(__file__).parent.parent / "sample_images"
WAIT_MS = 60_000  # a machine that is busy with other tests
NASTY = "<img src=x onerror=document.title='broken'>.jpg"

api = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
expect = api.expect


@pytest.fixture(scope="module")
def browser():
    api.expect.set_options(timeout=WAIT_MS)
    with running_browser() as browser:
        yield browser


@pytest.fixture(scope="module")
def photos(tmp_path_factory):
    """Two photos that are in no pile yet."""
    folder = tmp_path_factory.mktemp("camera")
    make_photos(folder, "romper.jpg", seed=11)
    make_photos(folder, "bib.jpg", seed=12)
    return folder


@pytest.fixture(scope="module")
def pile(tmp_path_factory, photos):
    """A folder of three photos that were sized, one with a name that tries to be a page."""
    folder = tmp_path_factory.mktemp("pile") / "photos"
    folder.mkdir()
    for name in ("romper.jpg", "bib.jpg"):
        shutil.copy(photos / name, folder)
    shutil.copy(photos / "romper.jpg", folder / NASTY)
    page = open_page(folder)
    for name in ("romper.jpg", "bib.jpg", NASTY):
        page.review.tidings.size(name)
    return folder


@pytest.fixture(scope="module")
def served(pile):
    """One page for all tests but those that kill it: a start takes as long as a test."""
    with Served(pile) as served:
        yield served


class Visit:
    """A browser window that was let in; notes whatever goes wrong or leads away."""

    def __init__(self, browser, served, **options):
        self.served = served
        self.context = browser.new_context(**options)
        self.context.set_default_timeout(WAIT_MS)
        self.wrong = []
        self.page = self.window()
        self.page.goto(served.fresh_link())
        self.page.wait_for_selector("#summary")

    def window(self):
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.wrong.append(f"{error}"))
        page.on(
            "console",
            lambda line: line.type in ("error", "warning") and self.wrong.append(line.text),
        )
        page.on(
            "request",
            lambda request: (
                request.url.startswith((self.served.address, "blob:"))
                or self.wrong.append(f"left for {request.url}")
            ),
        )
        page.on("dialog", lambda dialog: self.wrong.append(f"dialog {dialog.message}"))
        return page

    def open(self, photo):
        """Go to a garment and wait for its lines."""
        key = Ledger.open(self.served.folder).picture_of(photo).stem
        self.page.goto(f"{self.served.address}/garment/{key}")
        self.page.wait_for_selector('#picture [data-part="window"]')
        expect(self.page.locator("#waiting")).to_be_hidden()

    def open_quilt(self):
        """Go to the quilt and wait for its blocks."""
        self.page.goto(f"{self.served.address}/quilt")
        self.page.wait_for_selector(".place")

    def drag(self, locator, dx, dy):
        """Drag from the middle of something by so many pixels."""
        box = self.page.locator(locator).bounding_box()
        x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
        self.page.mouse.move(x, y)
        self.page.mouse.down()
        for step in range(1, 6):
            self.page.mouse.move(x + dx * step / 5, y + dy * step / 5)
        with self.page.expect_response(re.compile("/say$")):
            self.page.mouse.up()

    def close(self):
        for page in self.context.pages:  # a rewritten answer still under way fails the next test
            page.unroute_all(behavior="wait")
        self.context.close()
        assert self.wrong == []


class Held:
    """A page's messages to some addresses: under way until they are let go."""

    def __init__(self, page, addresses):
        self.page, self.addresses, self.routes, self.is_over = page, addresses, [], False
        page.route(addresses, self._hold)

    def _hold(self, route):
        if self.is_over:
            route.continue_()
        else:
            self.routes.append(route)

    def wait(self):
        for _ in range(WAIT_MS // 20):
            if self.routes:
                return
            self.page.wait_for_timeout(20)
        raise AssertionError(f"nothing was sent to {self.addresses}")

    def let_go(self):
        self.is_over = True
        for route in self.routes:
            route.continue_()


def open_all(page):
    """Open whatever can be opened on a view: it must fit then, too."""
    for summary in page.locator("summary").all():
        summary.click()
    if page.locator("#compare").count():
        page.click("#compare")
        page.wait_for_selector("#sets table")


def sent(page, end):
    """Whatever the page sends to addresses with such an end from now on."""
    requests = []
    page.on("request", lambda request: request.url.endswith(end) and requests.append(request))
    return requests


def said(folder, photo):
    return Ledger.open(folder).said(photo)


def test_from_photos_to_sheets_with_a_kill_between(browser, photos, tmp_path):
    folder = tmp_path / "new pile"
    folder.mkdir()
    with Served(folder) as served:
        visit = Visit(browser, served)
        page = visit.page
        expect(page.locator("#summary")).to_have_text("No photos yet.")
        page.set_input_files("#files", [photos / "romper.jpg", photos / "bib.jpg"])
        expect(page.locator(".tile")).to_have_count(2)
        expect(page.locator("#uploads a")).to_have_count(2)
        assert (folder / "romper.jpg").read_bytes() == (photos / "romper.jpg").read_bytes()

        # one by mouse
        visit.open("romper.jpg")
        before = page.locator("#finished").inner_text()
        visit.drag('[data-part="right"]', 40, 0)
        outline = said(folder, "romper.jpg").outline_px
        assert len(outline) == 4
        expect(page.locator("#undo")).to_be_enabled()
        page.keyboard.press("u")
        expect(page.locator("#undo")).to_be_disabled()
        assert said(folder, "romper.jpg").outline_px is None
        expect(page.locator("#finished")).to_have_text(before)
        page.keyboard.press("Control+y")
        expect(page.locator("#redo")).to_be_disabled()
        assert said(folder, "romper.jpg").outline_px == outline
        page.click("#undo")
        expect(page.locator("#redo")).to_be_enabled()
        visit.drag('[data-part="turn"]', -30, -12)
        expect(page.locator("#redo")).to_be_disabled()
        assert said(folder, "romper.jpg").place is not None
        page.click("#accept")
        expect(page.locator("#toast")).to_contain_text("Accepted")
        romper = said(folder, "romper.jpg")
        assert romper.accepted

        # one by keyboard
        visit.open("bib.jpg")
        page.focus('[data-part="top"]')
        with page.expect_response(re.compile("/say$")):
            for _ in range(3):
                page.keyboard.press("ArrowUp")
        expect(page.locator("#live")).to_contain_text("Motif to seam line: top")
        page.focus("#note")
        page.keyboard.type("soft, an apple")
        page.focus("#flags [name=zip]")
        page.keyboard.press("Space")
        expect(page.locator("#undo")).to_be_enabled()
        page.focus("#help")
        page.keyboard.press("a")
        expect(page.locator("#toast")).to_contain_text("Accepted")
        bib = said(folder, "bib.jpg")
        assert (bib.note, bib.zip, len(bib.outline_px)) == ("soft, an apple", True, 4)
        assert bib.accepted

        page.reload()
        visit.open("bib.jpg")
        expect(page.locator("#badge")).to_contain_text("accepted by you")
        visit.wrong.clear()
        served.stop(signal.SIGKILL)
        visit.context.close()

    with Served(folder) as served:
        assert said(folder, "romper.jpg") == romper
        visit = Visit(browser, served)
        page = visit.page
        expect(page.locator(".tile .accepted")).to_have_count(2)
        visit.open("bib.jpg")
        expect(page.locator("#note")).to_have_value("soft, an apple")
        visit.open_quilt()
        with page.expect_download() as download:
            page.click("text=Sheets to print")
        assert Path(download.value.path()).read_bytes().startswith(b"%PDF")
        visit.close()


def test_a_photo_is_dropped_into_the_page(browser, served, photos):
    visit = Visit(browser, served)
    data = visit.page.evaluate_handle(
        """async (content) => { const data = new DataTransfer();
        const bytes = Uint8Array.from(atob(content), (sign) => sign.charCodeAt(0));
        data.items.add(new File([bytes], "dropped.jpg")); return data; }""",
        b64encode((photos / "bib.jpg").read_bytes()).decode(),
    )
    visit.page.dispatch_event("#drop", "drop", {"dataTransfer": data})
    expect(visit.page.locator("#uploads a")).to_have_count(1)
    assert "dropped.jpg" in Ledger.open(served.folder).photos()
    visit.page.set_input_files(
        "#files", {"name": "evil.jpg", "mimeType": "image/jpeg", "buffer": b"<script>"}
    )
    expect(visit.page.locator("#uploads .is-refused")).to_contain_text("Not taken")
    assert "evil.jpg" not in Ledger.open(served.folder).photos()
    visit.wrong = [line for line in visit.wrong if "415" not in line]
    visit.close()


def test_names_and_notes_are_shown_and_never_run(browser, served):
    visit = Visit(browser, served)
    expect(visit.page.locator(".tile", has_text="onerror")).to_have_count(1)
    visit.open(NASTY)
    expect(visit.page.locator("#name")).to_have_text(NASTY)
    visit.page.fill("#note", "<script>document.title='broken'</script>")
    with visit.page.expect_response(re.compile("/say$")):
        visit.page.locator("#note").blur()
    visit.page.goto(served.address)
    expect(visit.page.locator(".tile", has_text="<script>")).to_have_count(1)
    assert "broken" not in visit.page.title()
    visit.close()


def test_no_size_is_called_safe_where_none_is(browser, served):
    visit = Visit(browser, served)

    def make_all_cut(route):
        answer = route.fetch()
        look = answer.json()
        for size in (look.get("sheet") or {}).get("sizes", []):
            size["state"] = "cuts"
        route.fulfill(response=answer, json=look)

    visit.open("romper.jpg")
    usual = visit.page.locator("#size-list label").first
    expect(usual).to_contain_text("The smallest that is safe: ")
    visit.page.route(re.compile("/api/garments/[^/]+$"), make_all_cut)
    visit.open("romper.jpg")
    expect(usual).to_contain_text("None is safe; the largest: ")
    visit.close()


def test_the_table_of_sets_follows_the_sizes_in_use(browser, tmp_path, pile):
    folder = tmp_path / "photos"
    shutil.copytree(pile, folder)
    with Served(folder) as served:
        visit = Visit(browser, served)
        first, second = visit.page, visit.window()
        second.goto(first.url)
        for page in (first, second):
            page.click("#compare")
            page.wait_for_selector("#sets table")
        first.get_by_label("Use these sizes: 3, 6, 9 in").click()
        for page in (first, second):
            expect(page.locator("#sizes-in-use")).to_have_text("3, 6, 9 in")
            used = page.locator("#sets tr", has_text="in use")
            expect(used).to_have_count(1)
            expect(used).to_contain_text("3, 6, 9\u00a0in")
        visit.close()


def test_every_photo_is_counted_once_by_outcome_as_the_command_counts(browser, pile, tmp_path):
    folder = shutil.copytree(pile, tmp_path / "photos")
    ledger = Ledger.open(folder)
    for photo in set(ledger.photos()) - {"romper.jpg", "bib.jpg", NASTY}:
        (folder / photo).unlink()  # what another test added
    ledger.tell("romper.jpg", {"size_mm": 25.4}, by="test")  # 1 in, far too small
    ledger.tell(NASTY, {"keep": False}, by="test")
    with Served(folder) as served:
        visit = Visit(browser, served)
        page = visit.page
        kinds = page.locator("#kinds")
        expect(kinds).to_have_text(
            "all (3)needs your eye (1)by outcome:sized (1)do not cut (1)not in the quilt (1)"
        )
        visit.open("romper.jpg")
        with page.expect_response(re.compile("/say$")):
            page.click("#accept")
        page.goto(served.address)
        expect(kinds).to_have_text("all (3)by outcome:sized (1)accepted (1)not in the quilt (1)")
        page.get_by_label("accepted (1)").check()
        expect(page.locator(".tile")).to_have_count(1)
        expect(page.locator(".tile")).to_contain_text("accepted by you")
        expect(page.locator(".tile")).not_to_contain_text("do not cut")
        told = CliRunner().invoke(app, ["pile", str(folder)])
        assert told.stdout.startswith("3 garments: 1 sized, 1 accepted\n")
        visit.close()


def test_two_windows_see_each_other(browser, served):
    visit = Visit(browser, served)
    first, second = visit.page, visit.window()
    visit.open("romper.jpg")
    second.goto(first.url)
    second.wait_for_selector('#picture [data-part="window"]')
    first.check("#flags [name=snaps]")
    first.fill("#note", "from the first")
    first.locator("#note").blur()
    expect(second.locator("#note")).to_have_value("from the first")
    with second.expect_response(re.compile("/say$")):
        second.locator("#size-list input").last.check()
    expect(first.locator("#finished")).to_have_text("9 in")
    both = said(served.folder, "romper.jpg")
    assert (both.snaps, both.note, both.size_mm) == (True, "from the first", 228.6)
    visit.close()


def test_a_finger_drags_too_and_the_page_fits_a_phone(browser, served):
    visit = Visit(
        browser, served, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    page = visit.page
    for path in ("/", "/phone", "/quilt"):
        page.goto(served.address + path)
        page.wait_for_selector(".tile, .shutter, .place")
        open_all(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, path
    visit.open("romper.jpg")
    assert page.evaluate("document.documentElement.scrollWidth") <= 360
    touch = visit.context.new_cdp_session(page)
    before = said(served.folder, "romper.jpg").revision
    box = page.locator('[data-part="right"]').bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2

    def finger(kind, *places):
        touch.send(
            "Input.dispatchTouchEvent",
            {"type": kind, "touchPoints": [{"x": px, "y": py} for px, py in places]},
        )

    finger("touchStart", (x, y))
    for step in range(1, 6):
        finger("touchMove", (x + 4 * step, y))
    with page.expect_response(re.compile("/say$")):
        finger("touchEnd")
    assert said(served.folder, "romper.jpg").revision > before
    visit.close()


def test_a_shot_from_the_camera_is_answered(browser, served, photos):
    visit = Visit(browser, served, viewport={"width": 390, "height": 800}, is_mobile=True)
    visit.page.goto(f"{served.address}/phone")
    expect(visit.page.locator(".notice", has_text="--lan")).to_contain_text("this computer only")
    shot = (photos / "romper.jpg").read_bytes()
    visit.page.set_input_files(
        "#shot", {"name": "image.jpg", "mimeType": "image/jpeg", "buffer": shot}
    )
    expect(visit.page.locator(".verdict-words")).to_contain_text("Finished")
    assert any(name.startswith("photo-20") for name in Ledger.open(served.folder).photos())
    visit.close()


def test_the_size_of_a_plain_square_is_asked_for_and_used_for_all(browser, tmp_path):
    for name in ("boat.jpg", "boat again.jpg"):
        shutil.copy(SAMPLES / "sticky-note-boat.jpg", tmp_path / name)
    shutil.copy(SAMPLES / "no-card-moon.jpg", tmp_path)
    with Served(tmp_path) as served:
        visit = Visit(browser, served)
        page = visit.page
        expect(page.locator(".tile.refused")).to_have_count(3)
        page.goto(f"{served.address}/garment/{Ledger.open(tmp_path).picture_of('boat.jpg').stem}")
        expect(page.locator("#plain-photo")).to_be_visible()
        expect(page.locator("#accept")).to_be_hidden()
        page.get_by_label("How large is your square?").fill("3 in")
        page.click("text=Measure with this")
        page.wait_for_selector('#picture [data-part="window"]')
        expect(page.locator("#square-words")).to_have_text("Square: 3 in, as you said")
        expect(page.locator("#plain-photo")).to_be_hidden()
        expect(page.locator("#side-for-all")).to_have_text(
            "Use 3 in for 2 other photos without a card, too"
        )
        page.click("#side-for-all")
        expect(page.locator("#alarm")).to_contain_text("no-card-moon.jpg: No reference square")
        expect(page.locator("#side-for-all")).to_have_text(
            "Use 3 in for 1 other photo without a card, too"
        )
        sizings = {name: Ledger.open(tmp_path).entry(name).sizing for name in
                   ("boat.jpg", "boat again.jpg")}  # fmt: skip
        assert sizings["boat.jpg"].window == sizings["boat again.jpg"].window
        page.click("#undo")
        expect(page.locator("#redo")).to_be_enabled()
        assert [said(tmp_path, name).side_mm for name in ("boat.jpg", "boat again.jpg")] == [
            pytest.approx(76.2), None,
        ]  # fmt: skip
        page.click("#redo")
        expect(page.locator("#redo")).to_be_disabled()
        assert said(tmp_path, "boat again.jpg").side_mm == pytest.approx(76.2)
        visit.close()


def test_other_sizes_are_put_to_use_and_taken_back(browser, pile, tmp_path):
    folder = shutil.copytree(pile, tmp_path / "photos")
    with Served(folder) as served:
        visit = Visit(browser, served)
        page = visit.page
        before = page.locator(".tile .sizes-line").all_inner_texts()
        page.fill("#own-sizes", "2 1/2, 8 1/2 in")
        page.click("#compare")
        page.get_by_label("Use these sizes: 2 1/2, 8 1/2 in").click()
        expect(page.locator("#sizes-in-use")).to_have_text("2 1/2, 8 1/2 in")
        expect(page.locator(".tile .sizes-line").first).to_have_text("Finished 8 1/2 in, cut 9 in")
        page.reload()
        asked = sent(page, "/api/sizes/use")
        page.get_by_text("Back to 3, 4, 5, 6, 7, 8, 9 in").dblclick()
        expect(page.locator("#sizes-in-use")).to_have_text("3, 4, 5, 6, 7, 8, 9 in")
        expect(page.locator("#sizes-back")).to_be_hidden()
        assert page.locator(".tile .sizes-line").all_inner_texts() == before
        assert len(asked) == 1
        visit.close()


def test_wishes_are_planned_and_undone(browser, pile, tmp_path):
    folder = shutil.copytree(pile, tmp_path / "photos")
    with Served(folder) as served:
        visit = Visit(browser, served)
        page = visit.page
        visit.open_quilt()
        first = page.locator("#quilt-words").inner_text()
        page.get_by_label("For a bed").select_option("crib")
        page.get_by_label("Hangs down by").fill("6 in")
        page.get_by_label("Sashes between the blocks").fill("2")
        page.fill("[name=sash_fabric]", "clouds")
        page.click("text=Plan with these wishes")
        expect(page.locator("#shopping")).to_contain_text("clouds")
        page.get_by_label("Which strip gets which").select_option("own")
        page.click("text=One fabric more")
        expect(page.locator("[name=fabric]")).to_have_count(3)
        page.click("text=Usual wishes")
        expect(page.locator("#quilt-words")).to_have_text(first)
        page.keyboard.press("Control+z")
        expect(page.locator("[name=fabric]")).to_have_count(3)
        expect(page.locator("[name=sash_fabric]")).to_have_value("clouds")
        page.keyboard.press("Control+Shift+z")
        expect(page.locator("#quilt-words")).to_have_text(first)
        page.fill("[name=block]", "1 in")
        page.click("text=Plan with these wishes")
        expect(page.locator("#trouble")).to_be_visible()
        page.click("#undo")
        expect(page.locator("#trouble")).to_be_hidden()
        expect(page.locator("#quilt-words")).to_have_text(first)
        visit.close()


def test_blocks_are_swapped_by_mouse_and_by_key(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open_quilt()
    names = [place.get_attribute("title") for place in page.locator(".place").all()]
    one, other = (page.locator(".place").nth(n).bounding_box() for n in (0, 1))
    page.mouse.move(one["x"] + 20, one["y"] + 20)
    page.mouse.down()
    page.mouse.move(other["x"] + 20, other["y"] + 20, steps=5)
    page.mouse.up()
    expect(page.locator(".place").nth(0)).to_have_attribute("title", names[1])
    expect(page.locator(".place").nth(1)).to_have_attribute("title", names[0])
    page.locator(".place").nth(1).focus()
    page.keyboard.press("Enter")
    page.keyboard.press("ArrowLeft")
    page.keyboard.press("Enter")
    expect(page.locator(".place").nth(0)).to_have_attribute("title", names[0])
    page.click("#undo")
    expect(page.locator(".place").nth(0)).to_have_attribute("title", names[1])
    visit.close()


@pytest.mark.skipif(
    not AXE.is_file() and not os.environ.get("CI"), reason="no axe-core (npm install in tests)"
)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_everyone_can_use_every_view(browser, served, scheme):
    rules = AXE.read_text()
    visit = Visit(browser, served, color_scheme=scheme, bypass_csp=True)
    page = visit.page

    def check(view):
        page.evaluate(rules)
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")
        serious = [
            (item["id"], [node["html"][:120] for node in item["nodes"][:3]])
            for item in found["violations"]
            if item["impact"] in ("serious", "critical")
        ]
        assert not serious, view
        assert len(found["passes"]) > 10, view

    page.wait_for_selector(".tile")
    page.click("#compare")
    page.wait_for_selector("#sets table")
    check("pile")
    page.click("#phone-link")
    page.wait_for_selector("#link-dialog[open]")
    check("link")
    visit.open("bib.jpg")
    page.click("#before")
    check("garment")
    page.click("#help")
    check("keys")
    visit.open_quilt()
    open_all(page)
    page.locator(".place").first.click()
    expect(page.locator("#held")).to_contain_text("Picked up")
    check("quilt")
    page.goto(f"{served.address}/phone")
    check("camera")
    visit.close()


def test_at_two_hundred_per_cent_nothing_is_cut_off(browser, served):
    # WCAG 1.4.4 and 1.4.10: 1280 CSS pixels at 200 % are 640
    visit = Visit(browser, served, viewport={"width": 640, "height": 400})
    page = visit.page
    for path in ("/", "/quilt", "/phone"):
        page.goto(served.address + path)
        page.wait_for_selector(".tile, .place, .shutter")
        open_all(page)
        assert page.evaluate("document.documentElement.scrollWidth") <= 640, path
    visit.open("romper.jpg")
    assert page.evaluate("document.documentElement.scrollWidth") <= 640
    page.locator("#accept").scroll_into_view_if_needed()
    expect(page.locator("#accept")).to_be_in_viewport()
    visit.close()


OUTSIDE = """() => {
  const found = [], name = (one) => `${one.tagName} ${one.id} ${one.className} ${one.innerText?.slice(0, 30)}`;
  for (const one of document.querySelectorAll("body *")) {
    const box = one.getBoundingClientRect();
    if (!box.width || !box.height || one.closest(".unseen, .skip, .scroll, svg *")) continue;
    for (let outer = one.parentElement; outer; outer = outer.parentElement) {
      if (outer !== document.documentElement && getComputedStyle(outer).overflowX === "visible") continue;
      const edge = outer.getBoundingClientRect();
      if (box.left < edge.left - 0.5 || box.right > edge.right + 0.5) found.push(name(one));
    }
    const isBlock = one instanceof HTMLElement && getComputedStyle(one).display !== "inline";
    if (isBlock && one.scrollWidth > one.clientWidth + 1) found.push(name(one));
  }
  return found;
}"""  # noqa: E501
"""Elements that stick out of the window or of what cuts them off, and those that hold too much."""

WIDTHS = (320, 360, 390, 640, 768, 1024, 1280, 1440, 1920)


def test_nothing_of_a_garment_is_cut_off_at_any_width(browser, pile, tmp_path):
    folder = shutil.copytree(pile, tmp_path / "photos")
    Ledger.open(folder).tell("romper.jpg", {"size_mm": 25.4}, by="test")  # 1 in, far too small
    with Served(folder) as served:
        visit = Visit(browser, served)
        page = visit.page
        for photo, words in (("romper.jpg", "Do not cut"), ("bib.jpg", "Sized")):
            visit.open(photo)
            expect(page.locator("#badge")).to_contain_text(words)
            open_all(page)
            for width in WIDTHS:
                page.set_viewport_size({"width": width, "height": 800})
                assert page.evaluate("document.documentElement.scrollWidth") <= width, width
                assert page.evaluate(OUTSIDE) == [], width
        assert not visit.wrong
        visit.close()


def test_missing_cloth_is_shown_beside_the_distance_to_the_seam_line(browser, served):
    visit = Visit(browser, served)
    page = visit.page

    def take_cloth_away(route):
        answer = route.fetch()
        look = answer.json()
        sides = look["sheet"]["clearance"]
        sides["top"]["cloth"] = {"words": "1 11/16 in", "state": "cuts"}
        sides["right"]["cloth"] = {"words": "1 3/16 in", "state": "close"}
        route.fulfill(response=answer, json=look)

    page.route(re.compile("/api/garments/[^/]+$"), take_cloth_away)
    visit.open("bib.jpg")
    states = {"top": "cuts", "right": "close", "bottom": "clear", "left": "clear"}
    for side, state in states.items():
        expect(page.locator(f".{side}-side")).to_have_class(f"{side}-side side-{state}")
    expect(page.locator(".top-side")).to_contain_text("cloth 1\u00a011/16\u00a0in short")
    compass = page.locator("#compass")
    expect(compass).to_have_attribute(
        "aria-label", re.compile("cloth 1 11/16 in short, the seam of a piece through the motif,")
    )
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 800})
        assert page.evaluate(OUTSIDE) == [], width
    visit.close()


REST_MS = 400  # in which a page does what it must not do, if it does


def step_aside(page):
    """Go to a neighbour by key."""
    page.keyboard.press("n" if page.locator("#next").is_enabled() else "p")


def key_of(page):
    return page.url.rpartition("/")[2]


def middle_of(page, locator):
    box = page.locator(locator).bounding_box()
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def start_drag(page, locator, dx, dy):
    """Drag from the middle of something and hold it."""
    x, y = middle_of(page, locator)
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + dx, y + dy, steps=4)


def titles(page):
    return [place.get_attribute("title") for place in page.locator(".place").all()]


def swap(page, one, other):
    before = titles(page)
    for n in (one, other):
        page.locator(".place").nth(n).focus()
        page.keyboard.press("Enter")
    expect(page.locator(".place").nth(one)).to_have_attribute("title", before[other])
    expect(page.locator("#quilt")).not_to_have_class(re.compile("busy"))


def test_a_word_stays_with_the_garment_that_it_was_said_of(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open("romper.jpg")
    held = Held(page, "**/say")
    page.check("#flags [name=raised]")
    held.wait()
    page.fill("#note", "of the romper")
    page.locator("#note").blur()
    step_aside(page)
    page.wait_for_timeout(REST_MS)
    held.let_go()
    expect(page.locator("#name")).not_to_have_text("romper.jpg")
    page.wait_for_load_state("networkidle")
    romper = said(served.folder, "romper.jpg")
    assert (romper.raised, romper.note) == (True, "of the romper")
    expect(page.locator("#note")).not_to_have_value("of the romper")
    visit.close()


def test_a_box_moved_while_another_word_is_under_way_is_kept(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open("bib.jpg")
    held = Held(page, "**/say")
    page.focus('[data-part="right"]')
    page.keyboard.press("ArrowRight")
    held.wait()
    page.keyboard.press("ArrowRight")
    with page.expect_response(re.compile("/say$")):
        held.let_go()
    first = said(served.folder, "bib.jpg").outline_px
    with page.expect_response(re.compile("/say$"), timeout=10_000):
        pass
    assert said(served.folder, "bib.jpg").outline_px != first
    page.focus('[data-part="right"]')
    page.keyboard.press("ArrowRight")
    words = sent(page, "/say")
    page.check("#flags [name=vinyl]")
    page.wait_for_timeout(1500)
    assert any("box" in request.post_data_json["changes"] for request in words)
    visit.close()


def test_a_key_held_down_accepts_one_garment(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open("romper.jpg")
    while page.locator("#previous").is_enabled():
        name = page.locator("#name").inner_text()
        page.keyboard.press("p")
        expect(page.locator("#name")).not_to_have_text(name)
        expect(page.locator("#waiting")).to_be_hidden()
    name = page.locator("#name").inner_text()
    words = sent(page, "/say")
    held = Held(page, "**/say")
    page.keyboard.down("a")
    held.wait()
    page.keyboard.down("a")
    page.locator("#accept").click()
    held.let_go()
    expect(page.locator("#name")).not_to_have_text(name)
    expect(page.locator("#waiting")).to_be_hidden()
    page.keyboard.down("a")
    page.wait_for_timeout(REST_MS)
    page.keyboard.up("a")
    assert len(words) == 1
    visit.close()


def test_what_is_tried_out_is_tried_on_its_own_garment(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open("romper.jpg")
    held = Held(page, "**/try")
    start_drag(page, '[data-part="right"]', 20, 0)
    held.wait()
    with page.expect_response(re.compile("/say$")):
        page.mouse.up()
    romper = key_of(page)
    step_aside(page)
    expect(page.locator("#name")).not_to_have_text("romper.jpg")
    expect(page.locator("#waiting")).to_be_hidden()
    assert key_of(page) != romper
    start_drag(page, '[data-part="right"]', 20, 0)
    with page.expect_request(re.compile("/try$")) as tried:
        held.let_go()
    assert key_of(page) in tried.value.url
    page.dispatch_event("#picture", "pointercancel", {"pointerId": 1})
    page.mouse.up()
    visit.close()


def test_a_box_is_drawn_over_another_motif(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open("bib.jpg")
    page.click("#no-motif")
    page.wait_for_selector("#picture .other")
    page.click("#draw")
    start_drag(page, "#picture .other .grab >> nth=0", 40, 40)
    with page.expect_response(re.compile("/say$")) as answer:
        page.mouse.up()
    assert "box" in answer.value.request.post_data_json["changes"]
    expect(page.locator("#draw")).to_have_attribute("aria-pressed", "false")
    visit.close()


def test_a_drag_that_is_cancelled_leaves_everything_as_it_was(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open("bib.jpg")
    words = sent(page, "/say")
    shown = page.locator('[data-part="box"] .grab')
    before = shown.get_attribute("points")
    start_drag(page, '[data-part="right"]', 30, 0)
    expect(shown).not_to_have_attribute("points", before)
    page.dispatch_event("#picture", "pointercancel", {"pointerId": 1})
    page.mouse.up()
    expect(shown).to_have_attribute("points", before)
    page.click("#draw")
    start_drag(page, '[data-part="box"]', 30, 30)
    expect(page.locator(".rubber")).to_have_count(1)
    page.dispatch_event("#picture", "pointercancel", {"pointerId": 1})
    page.mouse.up()
    expect(page.locator(".rubber")).to_have_count(0)
    page.wait_for_timeout(REST_MS)
    assert words == []
    visit.close()


def test_a_second_finger_ends_a_drawing(browser, served):
    visit = Visit(
        browser, served, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True
    )
    page = visit.page
    visit.open("bib.jpg")
    page.click("#draw")
    page.locator("#picture").scroll_into_view_if_needed()
    touch = visit.context.new_cdp_session(page)
    x, y = middle_of(page, "#picture")

    def fingers(kind, *places):
        points = [{"x": px, "y": py, "id": n} for n, (px, py) in enumerate(places)]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    fingers("touchStart", (x, y))
    fingers("touchMove", (x + 40, y + 40))
    expect(page.locator(".rubber")).to_have_count(1)
    fingers("touchStart", (x + 40, y + 40), (x - 60, y))
    expect(page.locator(".rubber")).to_have_count(0)
    fingers("touchEnd")
    visit.close()


def test_two_quick_undos_take_two_steps_back(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open_quilt()
    before = titles(page)
    swap(page, 0, 1)
    swap(page, 1, 2)
    held = Held(page, "**/api/quilt/restore")
    page.keyboard.press("Control+z")
    page.keyboard.press("Control+z")
    held.wait()
    page.wait_for_timeout(REST_MS)
    held.let_go()
    expect(page.locator("#undo")).to_be_disabled()
    assert titles(page) == before
    visit.close()


def test_a_block_is_picked_up_by_what_presses_buttons_for_a_person(browser, served):
    visit = Visit(browser, served)
    page = visit.page
    visit.open_quilt()
    page.locator(".place").first.evaluate("place => place.click()")
    expect(page.locator("#held")).to_contain_text("Picked up")
    expect(page.locator(".place").first).to_have_attribute("aria-pressed", "true")
    page.locator(".place").first.evaluate("place => place.click()")
    expect(page.locator("#held")).to_be_hidden()
    page.locator(".place").first.focus()
    page.keyboard.press("Space")
    expect(page.locator("#held")).to_contain_text("Picked up")
    visit.close()


def test_wishes_that_were_not_sent_yet_stay_in_their_fields(browser, pile, tmp_path):
    folder = shutil.copytree(pile, tmp_path / "photos")
    with Served(folder) as served:
        visit = Visit(browser, served)
        page = visit.page
        visit.open_quilt()
        page.fill("[name=sashing]", "2")
        page.fill("[name=fabric]", "meadow")
        with page.expect_response(re.compile("/anew$")):
            page.click("#anew")
        expect(page.locator("#undo")).to_be_enabled()
        expect(page.locator("[name=sashing]")).to_have_value("2")
        page.click("#undo")
        expect(page.locator("#redo")).to_be_enabled()
        expect(page.locator("[name=sashing]")).to_have_value("2")
        expect(page.locator("[name=fabric]").first).to_have_value("meadow")
        page.click("text=Plan with these wishes")
        expect(page.locator("#shopping")).to_contain_text("meadow")
        page.click("#undo")
        expect(page.locator("[name=sashing]")).to_have_value("")
        visit.close()


def test_what_was_done_to_one_pile_is_not_undone_in_another(browser, pile, tmp_path):
    one, other = (shutil.copytree(pile, tmp_path / name) for name in ("one", "other"))
    with Served(one) as served:
        visit = Visit(browser, served)
        page = visit.page
        visit.open("bib.jpg")
        page.check("#flags [name=snaps]")
        expect(page.locator("#undo")).to_be_enabled()
        port = served.address.rpartition(":")[2]
        page.goto("about:blank")
    with Served(other, words=("--port", port)) as served:
        visit.served = served
        page.goto(served.fresh_link())
        page.wait_for_selector("#summary")
        visit.open("bib.jpg")
        expect(page.locator("#undo")).to_be_disabled()
        visit.close()

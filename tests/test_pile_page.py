"""The page of a pile: complete, offline, filtered, printable, and deaf to what names contain."""

import base64
import hashlib
import io
import os
import re
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import browsing
import faults
import piles
import pytest
import records
from PIL import Image

from motiffit.ledger import Ledger
from motiffit.runners import SerialRunner
from motiffit.show.page import page_parts
from motiffit.show.rows import by_garment, make_row

AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
EVIL = "<script>document.title='evil'</script>"
EVIL_NAME = "\"><img src=x onerror=document.title='evil'>.jpg"


def tiny_jpeg():
    buffer = io.BytesIO()
    Image.new("RGB", (40, 30), (180, 90, 60)).save(buffer, "JPEG")
    return buffer.getvalue()


def make_rows():
    check = records.make_sizing(records.Case(codes=("motif-doubtful",), trust=0.5))
    larger = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 110.0, 100.0),)))
    huge = records.make_sizing(records.Case(motifs_mm=((200.0, -180.0, 300.0, 72.0),)))
    plain = records.make_sizing(records.Case(motifs_mm=()))
    lines = {
        "romper-front.jpg": ("romper", records.make_sizing(), {"flags": ("zip",), "note": EVIL}),
        "romper-back.jpg": ("romper", check, {}),
        EVIL_NAME: (EVIL, larger, {}),
        "huge.jpg": ("huge", huge, {}),
        "plain.jpg": ("plain", plain, {}),
        "bib.jpg": ("bib", records.make_refused(), {}),
    }
    rows = [
        make_row(replace(sizing, photo=photo), garment=garment, **said)
        for photo, (garment, sizing, said) in lines.items()
    ]
    return [row for group in by_garment(rows) for row in group]


def make_page(rows=None, *, gone=(), title=EVIL):
    rows = make_rows() if rows is None else rows
    parts = page_parts(
        rows,
        title=title,
        gone=gone,
        thumbnail=lambda photo: None if photo == "bib.jpg" else tiny_jpeg(),
        link=lambda photo: None if photo == "bib.jpg" else "pictures/x.jpg",
    )
    return b"".join(parts).decode()


class Reader(HTMLParser):
    """Collects tags with their attributes."""

    def __init__(self, text):
        super().__init__()
        self.tags = []
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        self.tags.append((tag, dict(attributes)))

    def all(self, name):
        return [attributes for tag, attributes in self.tags if tag == name]


def test_page_asks_for_nothing_outside_itself():
    reader = Reader(make_page())
    for tag, attributes in reader.tags:
        for name in ("src", "href", "srcset", "action", "data"):
            address = attributes.get(name, "")
            assert not re.match(r"(?i)(https?:|//|file:|javascript:)", address or ""), (
                tag,
                address,
            )
    assert not reader.all("link")
    assert "@import" not in make_page()
    assert "url(" not in make_page()


def test_only_our_own_script_and_style_may_run():
    text = make_page()
    policy = Reader(text).all("meta")[1]["content"]
    assert "default-src 'none'" in policy
    for kind in ("script", "style"):
        content = re.search(rf"<{kind}>(.*?)</{kind}>", text, re.DOTALL)[1]
        digest = base64.b64encode(hashlib.sha256(content.encode()).digest()).decode()
        assert f"{kind}-src 'sha256-{digest}'" in policy
    assert not [attributes for _, attributes in Reader(text).tags if "style" in attributes]
    assert not [1 for _, attributes in Reader(text).tags for name in attributes if name[:2] == "on"]


def test_the_page_names_no_option():
    body = make_page().partition("<body>")[2]
    assert not re.search(r"[ (]--[a-z]", body)
    assert "motiffit review" in body


def test_what_many_photos_share_is_said_once():
    sizing = records.make_sizing(records.Case(codes=("focal-unknown",)))
    rows = [make_row(replace(sizing, photo=f"{n}.jpg"), garment=f"{n}") for n in range(3)]
    page = make_page(rows)
    assert page.count("which lens") == 1
    assert "3 photos do not say which lens took them" in page
    alone = make_page(rows[:1])
    assert "photos do not say" not in alone
    assert alone.count("which lens") == 1


def test_every_photo_says_what_it_was_measured_by():
    page = make_page()
    assert page.count("<dt>Card</dt><dd>4\u00a0in, read from its code</dd>") == 5


def test_every_picture_and_control_has_a_name():
    reader = Reader(make_page())
    assert all(image.get("alt") for image in reader.all("img"))
    assert reader.all("html")[0]["lang"] == "en"
    levels = [int(tag[1]) for tag, _ in reader.tags if re.fullmatch("h[1-6]", tag)]
    assert all(after - before <= 1 for before, after in pairwise(levels))
    ids = [attributes["id"] for _, attributes in reader.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    anchors = [a["href"][1:] for a in reader.all("a") if a.get("href", "").startswith("#")]
    assert set(anchors) <= set(ids)


def test_photos_of_one_garment_stand_together():
    text = make_page()
    assert "<bdi>romper</bdi>: 2 photos" in text
    assert "Not counted: another photo of this garment is." in text


def test_photos_gone_are_named():
    assert "<bdi>lost.jpg</bdi>" in make_page(gone=("lost.jpg",))
    assert "No longer in the folder" not in make_page()


def test_empty_pile_has_a_page():
    assert "0 garments." in make_page([])


@pytest.fixture(scope="module")
def browser():
    with browsing.running_browser() as found:
        yield found


@pytest.fixture(scope="module")
def page_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("page") / "index.html"
    file.write_text(make_page(), encoding="utf-8")
    return file


def shown(page):
    # not the text as drawn: cards out of sight are drawn only when the browser finds the time
    headings = page.locator(".card:visible h3, .card:visible h4").all_text_contents()
    return [heading.strip() for heading in headings]


def test_names_and_notes_run_nothing_in_a_browser(browser, page_file):
    with browsing.open_page(browser, page_file.as_uri()) as page:
        assert page.title() == f"{EVIL}: sizes"
        assert page.said == page.faults == []
        assert [
            url for url in page.asked if not url.startswith(("data:", page_file.as_uri()))
        ] == []
        assert EVIL_NAME in shown(page)


def test_nasty_names_of_a_whole_pile_run_nothing_in_a_browser(browser, tmp_path):
    piles.make_photos(tmp_path, 0, piles.NASTY)
    piles.size_all(tmp_path, SerialRunner(work=faults.quick_work))
    with browsing.open_page(browser, (Ledger.open(tmp_path).home / "index.html").as_uri()) as page:
        assert page.title() == f"{tmp_path.name}: sizes"
        assert page.said == page.faults == []
        assert len(shown(page)) == len(piles.NASTY)


def test_filters_by_outcome_size_and_need(browser, page_file):
    with browsing.open_page(browser, page_file.as_uri()) as page:
        assert len(shown(page)) == 6
        page.get_by_label(re.compile("not to be cut")).uncheck()
        assert "huge.jpg" not in shown(page)
        page.get_by_role("button", name="Show all").click()
        page.get_by_label(re.compile(r"\b4 in")).uncheck()
        assert "romper-front.jpg" not in shown(page)
        assert page.get_by_role("status").inner_text() == "4 of 6 photos shown"
        page.get_by_role("button", name="Show all").click()
        page.get_by_label("only what needs my eye").check()
        assert shown(page) == ["huge.jpg", "bib.jpg"]


def test_order_by_need_and_by_size(browser, page_file):
    with browsing.open_page(browser, page_file.as_uri()) as page:
        page.get_by_label("Order").select_option("urgency")
        assert shown(page)[:2] == ["huge.jpg", "bib.jpg"]
        page.get_by_label("Order").select_option("size")
        assert shown(page)[:2] == ["romper-front.jpg", "romper-back.jpg"]
        assert shown(page)[-1] == "bib.jpg", "what has no size comes last"


def test_link_to_a_hidden_photo_shows_it(browser, page_file):
    with browsing.open_page(browser, page_file.as_uri()) as page:
        page.get_by_label(re.compile("not measured")).uncheck()
        assert "bib.jpg" not in shown(page)
        page.get_by_role("link", name="bib.jpg", exact=True).click()
        page.locator(".card:visible", has_text="bib.jpg").wait_for()


def test_page_fits_a_phone_and_can_be_used_by_keyboard(browser, page_file):
    phone = {"width": 360, "height": 640}
    with browsing.open_page(browser, page_file.as_uri(), viewport=phone) as page:
        too_wide = page.evaluate(
            "[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right"
            " > 360 && !e.closest('.unseen')).map(e => e.outerHTML.slice(0, 90))"
        )
        assert too_wide == []
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.textContent") == "Skip to the garments"
        page.keyboard.press("Enter")
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.name") == "kind"
        page.keyboard.press("Space")
        assert page.evaluate("document.activeElement.checked") is False


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_words_stand_out_from_their_ground(browser, page_file, scheme):
    # WCAG 2.1, success criterion 1.4.3: contrast of 4.5 : 1 for text
    with browsing.open_page(browser, page_file.as_uri(), color_scheme=scheme) as page:
        pairs = page.evaluate(
            """() => [...document.querySelectorAll(
                 'p, li, h1, h2, h3, h4, a, span, strong, dt, dd, th, td, label, button, legend')]
               .filter(e => e.offsetWidth
                 && [...e.childNodes].some(n => n.nodeType == 3 && n.data.trim()))
               .map(e => { let g = e; const clear = c => c == 'rgba(0, 0, 0, 0)';
                 while (clear(getComputedStyle(g).backgroundColor)) g = g.parentElement;
                 return [e.textContent.trim(), getComputedStyle(e).color,
                         getComputedStyle(g).backgroundColor]; })"""
        )
        assert len(pairs) > 40
        for words, ink, ground in pairs:
            assert contrast(ink, ground) >= 4.5, (words, ink, ground)


@pytest.mark.skipif(
    not AXE.is_file() and not os.environ.get("CI"), reason="no axe-core (npm install in tests)"
)
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_rules_for_accessible_pages_find_no_fault(browser, page_file, scheme):
    # the page's own policy lets no other script in; for the checker it is set aside
    with browsing.open_page(
        browser, page_file.as_uri(), color_scheme=scheme, bypass_csp=True
    ) as page:
        page.add_script_tag(path=str(AXE))
        found = page.evaluate("axe.run(document, {resultTypes: ['violations']})")["violations"]
        assert [(fault["id"], fault["nodes"][0]["html"]) for fault in found] == []


def contrast(one, other):
    """WCAG 2.1, definitions of contrast ratio and relative luminance."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def luminance(words):
    levels = [int(part) / 255 for part in re.findall(r"\d+", words)[:3]]
    linear = [v / 12.92 if v <= 0.03928 else ((v + 0.055) / 1.055) ** 2.4 for v in levels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def test_contrast_of_known_pairs():
    # black on white is 21 : 1 by definition; #777777 on white is 4.48 : 1 (WCAG's usual example)
    assert contrast("rgb(0, 0, 0)", "rgb(255, 255, 255)") == pytest.approx(21)
    assert contrast("rgb(119, 119, 119)", "rgb(255, 255, 255)") == pytest.approx(4.48, abs=0.005)


def test_paper_shows_all_that_is_not_filtered_and_no_controls(browser, page_file):
    with browsing.open_page(browser, page_file.as_uri()) as page:
        page.emulate_media(media="print")
        assert not page.locator(".filters").is_visible()
        assert len(shown(page)) == 6
        assert page.pdf(format="A4").startswith(b"%PDF")

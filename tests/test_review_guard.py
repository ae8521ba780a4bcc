"""Attacks on the page from other sites, names and programs: all refused, nothing changed."""

import hashlib
import json
import shutil
import struct
import zlib
from pathlib import Path

import pytest
from reviewing import HOST, OWN, make_photos, open_page, stranger

from motiffit.review.guard import CONTENT_POLICY, Gate
from motiffit.review.uploads import safe_photo_name


@pytest.fixture(scope="module")
def pile(tmp_path_factory):
    """A folder whose only photo was sized."""
    folder = tmp_path_factory.mktemp("pile") / "photos"
    folder.mkdir()
    make_photos(folder, "shirt.png")
    (folder / "private.txt").write_text("secret of the folder")
    (folder.parent / "outside.jpg").write_bytes(b"secret of outside")
    open_page(folder).review.tidings.size("shirt.png")
    return folder


@pytest.fixture(scope="module")
def page(pile):
    """A page for attacks that must fail: whatever they change would fail later tests too."""
    return open_page(pile)


@pytest.fixture
def own_page(tmp_path, pile):
    """A page on a copy of the pile."""
    return open_page(Path(shutil.copytree(pile, tmp_path / "photos")))


def state_of(folder):
    """Hash everything in the folder but lock files, which hold nothing."""
    files = sorted(path for path in folder.rglob("*") if path.is_file() and path.suffix != ".lock")
    return {str(path): hashlib.sha256(path.read_bytes()).hexdigest() for path in files}


# -- who is let in ----------------------------------------------------------------------------


def test_without_the_cookie_nothing_is_shown(page):
    key = page.key("shirt.png")
    for path in ("/", "/phone", f"/garment/{key}", "/api/pile", f"/api/garments/{key}",
                 f"/picture/{key}/flat.jpg", f"/picture/{key}/small.jpg", "/quilt"):  # fmt: skip
        answer = stranger(page.review).get(path)
        assert answer.status_code == 401, path
        assert "shirt" not in answer.text


def test_a_link_lets_one_browser_in_once(page):
    word = page.links.gate.new_link()
    first, second = stranger(page.review), stranger(page.review)
    assert first.get(f"/enter/{word}").status_code == 200
    assert first.get("/api/pile").status_code == 200
    assert second.get(f"/enter/{word}").status_code == 403
    assert second.get("/api/pile").status_code == 401


def test_the_same_browser_may_use_its_old_link_again(page):
    word = page.links.gate.new_link()
    browser = stranger(page.review)
    browser.get(f"/enter/{word}")
    assert browser.get(f"/enter/{word}").status_code == 200


def test_looking_at_a_link_does_not_use_it_up(page):
    # programs that show a link's preview often ask for its headers first
    word = page.links.gate.new_link()
    curious, browser = stranger(page.review), stranger(page.review)
    assert curious.head(f"/enter/{word}").status_code == 405
    assert curious.get("/api/pile").status_code == 401
    assert browser.get(f"/enter/{word}").status_code == 200


@pytest.mark.parametrize("word", ["", "x", "0" * 32, "%00", "\u00e9\u00e9"])
def test_guessed_words_let_nobody_in(page, word):
    browser = stranger(page.review)
    browser.get(f"/enter/{word}")
    assert browser.get("/api/pile").status_code == 401


def test_a_made_up_cookie_is_not_known(page):
    browser = stranger(page.review)
    for cookie in ("motiffit_8479=", "motiffit_8479=abc", 'motiffit_8479="', "motiffit_8479=\xff"):
        answer = browser.get("/api/pile", headers={"Cookie": cookie.encode("latin-1")})
        assert answer.status_code == 401


def test_the_cookie_cannot_be_read_by_scripts_or_sent_from_other_sites(page):
    answer = stranger(page.review).get(f"/enter/{page.links.gate.new_link()}")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "domain" not in cookie


def test_old_links_and_browsers_are_forgotten():
    gate = Gate()
    first = gate.new_link()
    for _ in range(30):
        gate.new_link()
    assert gate.let_in(first) is None


# -- from where -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8479", "127.0.0.1", "127.0.0.1:80", "0.0.0.0:8479",
             "127.0.0.1:8479.evil.example", "", "[::1]:8479", "127.0.0.1:8479@evil.example"],
)  # fmt: skip
def test_a_foreign_name_for_this_computer_is_refused(page, host):
    # DNS rebinding: evil.example resolves to 127.0.0.1, its page then asks with its own name
    answer = page.client.get("/api/pile", headers={"Host": host})
    assert answer.status_code == 421
    assert "shirt" not in answer.text


def test_localhost_is_this_computer(page):
    browser = stranger(page.review)
    browser.base_url = "http://localhost:8479"
    assert browser.get(f"/enter/{page.links.gate.new_link()}").status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {},  # no origin at all: not one of our pages
        {"Origin": "null"},
        {"Origin": "http://evil.example"},
        {"Origin": f"https://{HOST}"},
        {"Origin": "http://127.0.0.1:8480"},
        {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "cross-site"},
        {"Origin": f"http://{HOST}", "Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_post_from_another_site_changes_nothing(page, headers):
    before = state_of(page.ledger.folder)
    key = page.key("shirt.png")
    for path in (f"/api/garments/{key}/say", f"/api/garments/{key}/try", "/api/links"):
        answer = page.client.post(path, json={"changes": {"note": "x"}}, headers=headers)
        assert answer.status_code == 403
    assert (
        page.client.post("/api/photos?name=a.jpg", content=b"x", headers=headers).status_code == 403
    )
    assert state_of(page.ledger.folder) == before


def test_another_site_cannot_fetch_a_picture(page):
    path = f"/picture/{page.key('shirt.png')}/small.jpg"
    headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": "no-cors"}
    assert page.client.get(path, headers=headers).status_code == 403
    assert page.client.get(path).headers["cross-origin-resource-policy"] == "same-origin"


def test_a_form_post_is_not_taken_for_the_page(page):
    key = page.key("shirt.png")
    body = json.dumps({"changes": {"note": "x"}})
    headers = {**OWN, "Content-Type": "text/plain"}
    answer = page.client.post(f"/api/garments/{key}/say", content=body, headers=headers)
    assert answer.status_code == 400
    assert page.ledger.said("shirt.png").note is None


def test_every_answer_carries_the_policy(page):
    paths = ["/", "/phone", "/static/talk.js", "/nowhere", "/api/nowhere", "/enter/x"]
    answers = [page.client.get(path) for path in paths] + [stranger(page.review).get("/")]
    for answer in answers:
        assert answer.headers["content-security-policy"] == CONTENT_POLICY
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"
        assert "server" not in answer.headers
    for part in ("unsafe", "http:", "https:", "*", "data:"):
        assert part not in CONTENT_POLICY


def test_pages_hold_no_script_or_style_of_their_own(page):
    for path in ("/", "/phone", f"/garment/{page.key('shirt.png')}"):
        text = page.client.get(path).text.lower()
        assert text.count("<script") == 1
        assert '<script type="module" src="/static/' in text
        assert "<style" not in text
        assert " style=" not in text
        assert " onclick=" not in text
        for word in ("http://", "https://", "//cdn"):
            assert word not in text


# -- paths ------------------------------------------------------------------------------------


NAMES = [
    "..%2f..%2fprivate.txt", "../private.txt", "..\\private.txt", "%2e%2e/private.txt", "shirt.png",
    "private.txt", "/etc/passwd", "%2fetc%2fpasswd", "..%252f..%252foutside.jpg", "%00", "%ff",
]  # fmt: skip


@pytest.mark.parametrize(
    "path", ["/picture/{}/small.jpg", "/picture/{}/flat.jpg", "/garment/{}", "/api/garments/{}",
             "/static/{}", "/static/../{}", "/picture/small.jpg/{}", "/{}"],
)  # fmt: skip
def test_no_path_leads_to_another_file(page, path):
    for name in NAMES:
        answer = page.client.get(path.format(name))
        assert answer.status_code in (400, 404), name
        assert "secret" not in answer.text
        assert str(page.ledger.folder) not in answer.text
        assert "root:" not in answer.text


@pytest.mark.parametrize("path", ["/static/", "/static", "/picture/", "/motiffit/", "/api/"])
def test_no_folder_is_listed(page, path):
    answer = page.client.get(path)
    assert answer.status_code in (400, 404)
    assert ".js" not in answer.text


def test_a_photo_linked_from_outside_is_not_shown(own_page):
    (own_page.ledger.folder / "link.jpg").symlink_to(own_page.ledger.folder.parent / "outside.jpg")
    listing = own_page.client.get("/api/pile").json()
    assert listing["strays"] == ["link.jpg"]
    assert own_page.client.get(f"/picture/{own_page.key('link.jpg')}/flat.jpg").status_code == 404
    assert own_page.client.get(f"/api/garments/{own_page.key('link.jpg')}").status_code == 404


def test_a_photo_that_becomes_a_link_to_outside_is_not_followed(own_page):
    photo = own_page.ledger.path_of("shirt.png")
    address = f"/api/garments/{own_page.key('shirt.png')}"
    assert own_page.client.get(address).status_code == 200
    outside = own_page.ledger.folder.parent / "moved.png"
    photo.rename(outside)
    photo.symlink_to(outside)
    assert own_page.client.get(address).status_code == 404
    for picture in ("flat", "small", "plain"):
        path = f"/picture/{own_page.key('shirt.png')}/{picture}.jpg"
        assert own_page.client.get(path).status_code == 404
    photo.unlink()
    inside = own_page.ledger.folder / "real.png"
    outside.rename(inside)
    photo.symlink_to("real.png")
    assert own_page.client.get(address).status_code == 200


# -- what comes in ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("page.jpg", b"<!doctype html><script>alert(1)</script>"),
        ("page.svg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"),
        ("drawing.jpg", b"<svg xmlns='http://www.w3.org/2000/svg' onload='alert(1)'/>"),
        ("program.png", b"\x7fELF" + bytes(400)),
        ("empty.jpg", b""),
        ("cut.jpg", b"\xff\xd8\xff\xe0" + bytes(40)),
        ("archive.webp", b"PK\x03\x04" + bytes(400)),
        ("shirt.exe", b"x"), ("shirt", b"x"), (".jpg", b"x"), ("shirt.jpg.html", b"x"), ("", b"x"),
    ],
)  # fmt: skip
def test_what_is_no_photo_does_not_come_in(page, name, content):
    before = state_of(page.ledger.folder)
    answer = page.add(name, content)
    assert answer.status_code in (400, 415)
    assert answer.json()["error"]
    assert state_of(page.ledger.folder) == before


def test_a_picture_that_unfolds_to_gigabytes_is_refused(page, tmp_path):
    # 20,000 x 20,000 pixels in a PNG of 0.4 MB: more than the 120 megapixels that are read
    def chunk(kind, data):
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", 20_000, 20_000, 1, 0, 0, 0, 0)
    rows = zlib.compressobj(9)
    body = b"".join(rows.compress(bytes(2501)) for _ in range(20_000)) + rows.flush()
    bomb = b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", body) + chunk(b"IEND", b"")
    answer = page.add("bomb.png", bomb)
    assert answer.status_code == 415
    assert "million pixels" in answer.json()["error"]


def test_an_oversized_photo_is_cut_off_while_it_comes_in(page, monkeypatch):
    monkeypatch.setattr("motiffit.review.uploads.LIMIT_MEGABYTES", 0.2)
    before = state_of(page.ledger.folder)
    answer = page.add("big.jpg", bytes(300_000))
    assert answer.status_code == 413
    assert state_of(page.ledger.folder) == before


def test_a_pile_that_is_full_takes_no_more(own_page, monkeypatch):
    monkeypatch.setattr("motiffit.review.server.MOST_PHOTOS", 1)
    assert own_page.add("more.jpg", b"x").status_code == 409


@pytest.mark.parametrize(
    ("sent", "kept"),
    [
        ("../../up.jpg", "up.jpg"),
        ("..\\..\\up.jpg", "up.jpg"),
        ("/etc/cron.d/job.png", "job.png"),
        ("-rf.jpg", "rf.jpg"),
        (".hidden.jpg", "hidden.jpg"),
        ("a\nb\x1b[31m.jpg", "ab[31m.jpg"),
        ("CON.jpg", "photo-CON.jpg"),
        ("b\u00e9b\u00e9.HEIC", "b\u00e9b\u00e9.HEIC"),
        ("\u202egpj.exe.jpg", "gpj.exe.jpg"),
        ("x" * 400 + ".jpg", "x" * 100 + ".jpg"),
    ],
)
def test_names_are_made_plain(sent, kept):
    assert safe_photo_name(sent) == kept


def test_a_photo_never_takes_anothers_place(own_page):
    content = (own_page.ledger.folder / "shirt.png").read_bytes()
    answer = own_page.add("../shirt.png", content)
    assert answer.status_code == 200
    assert answer.json()["photo"] == "shirt 2.png"
    assert sorted(own_page.ledger.photos()) == ["shirt 2.png", "shirt.png"]
    assert not (own_page.ledger.folder.parent / "shirt.png").exists()


WIDE = [[0, 0], [90, 0], [90, 90], [0, 90]]


@pytest.mark.parametrize(
    "changes",
    [
        {"outline_px": [[0, 0], [1, 1]]}, {"revision": 5}, {"accepted": "x"}, {"colour": 1},
        {"note": "x" * 2001}, {"note": 5}, {"zip": "yes"}, {"size_mm": -1}, {"size_mm": "4 in"},
        {"size_mm": 5000.0}, {"size_mm": 10**400}, {"side_mm": 50.0}, {"outline_sd_mm": 9.0},
        {"pick": 0}, {"box": [[0, 0]]}, {"box": "x"}, {"box": {"corners": WIDE}},
        {"box": {"corners": WIDE, "px_mm": 0}}, {"box": {"corners": WIDE, "px_mm": 10**400}},
        {"box": {"corners": [[0, 0], [1, 0], [1, 1], [0, 1]], "px_mm": 1}},
        {"box": {"corners": [[1e9, 0], [2e9, 0], [2e9, 9e9], [1e9, 9e9]], "px_mm": 1}},
        {"box": {"corners": [[10**400, 0]] * 4, "px_mm": 1}}, {"place": {"middle": [1e7, 0]}},
        {"place": {"middle": [0, 0], "angle": [1]}},
        {"place": {"middle": [0, 0], "angle": 10**400}},
        {"place": {"middle": [0, 0], "angle": "x"}}, {"place": 3}, {"restore": {"revision": 3}},
        {"restore": "x"}, {"restore": {"note": "x" * 2001}}, {"restore": {"outline_px": [[1]]}},
    ],
)  # fmt: skip
def test_words_that_the_page_never_says_change_nothing(page, changes):
    before = page.ledger.said("shirt.png")
    answer = page.say("shirt.png", changes)
    assert answer.status_code == 400
    assert page.ledger.said("shirt.png") == before


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"{", b"nonsense", b'{"changes": 3}', b"[" * 9000, b" " * 70_000,
             b'{"changes": {}, "revision": "x"}', b'{"changes": {}, "accepts": 3}',
             b'{"changes": {"place": {"middle": [NaN, 0]}}}'],
)  # fmt: skip
def test_messages_that_make_no_sense_are_refused(page, body):
    headers = {**OWN, "Content-Type": "application/json"}
    key = page.key("shirt.png")
    answer = page.client.post(f"/api/garments/{key}/say", content=body, headers=headers)
    assert answer.status_code == 400
    assert "Traceback" not in answer.text


def test_names_and_notes_stay_text(own_page):
    name = "<img src=x onerror=alert(1)>.png"
    content = (own_page.ledger.folder / "shirt.png").read_bytes()
    (own_page.ledger.folder / name).write_bytes(content)
    own_page.client.get("/api/pile")
    own_page.say(name, {"note": "<script>alert(1)</script>"})
    html = own_page.client.get(f"/garment/{own_page.key(name)}").text
    assert "<img src=x" not in html
    assert "&lt;img src=x" in html
    listing = own_page.client.get("/api/pile")
    assert listing.headers["content-type"] == "application/json"
    assert "<script>alert(1)</script>" in [photo["note"] for photo in listing.json()["photos"]]


def test_errors_name_no_path(own_page, monkeypatch):
    def broken(*_args, **_kwargs):
        raise PermissionError(13, "Permission denied", str(own_page.ledger.folder))

    monkeypatch.setattr("motiffit.files._create", broken)
    answer = own_page.say("shirt.png", {"note": "x"})
    assert answer.status_code == 507
    assert str(own_page.ledger.folder) not in answer.text
    monkeypatch.setattr("motiffit.review.uploads.tempfile.mkstemp", broken)
    answer = own_page.add("new.png", b"x")
    assert answer.status_code == 507
    assert str(own_page.ledger.folder) not in answer.text


def test_a_fault_of_ours_tells_nothing(page, monkeypatch):
    def broken(*_args):
        raise RuntimeError(f"at {page.ledger.folder}")

    monkeypatch.setattr("motiffit.review.desk.Desk.look", broken)
    answer = page.client.get(f"/api/garments/{page.key('shirt.png')}")
    assert answer.status_code == 500
    assert str(page.ledger.folder) not in answer.text

"""How fast the review page is: first view, dragging, a photo from a phone, other sizes.

Run ``python tests/bench/bench_review.py [PHOTO]`` with tests/ on the path; not collected by pytest.
Everything runs on this machine: a real server and a real headless browser; between them loopback,
or for the phone this machine's own address in its network.
"""

import json
import statistics
import sys
import tempfile
import time
from io import BytesIO
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

import httpx2
from browsing import running_browser
from records import Case, make_sizing
from served import Served

from motiffit.ledger import Ledger
from motiffit.settings import Settings

GARMENTS = 150
DRAGS = 100
SHOTS = 5
PHONE_PX = (4032, 3024)  # 12 megapixels, as most phones take
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}

READY = """() => new Promise((resolve) => { const look = () => {
  const first = document.querySelector(".tile a");
  if (first) resolve(performance.now()); else requestAnimationFrame(look); }; look(); })"""

FRAMES = """async () => { const gaps = []; let last = performance.now();
  const end = document.documentElement.scrollHeight - innerHeight;
  for (let step = 1; step <= 120; step += 1) {
    scrollTo(0, (end * step) / 120);
    await new Promise(requestAnimationFrame);
    gaps.push(performance.now() - last); last = performance.now(); }
  return gaps.sort((a, b) => a - b); }"""


def make_pile(folder, photo):
    """Fill a folder with photos that look sized; only the first one really is a photo."""
    content = photo.read_bytes()
    (folder / "shirt 0.jpg").write_bytes(content)
    for number in range(1, GARMENTS):
        # a pile does not measure what it knows: names, hashes and records are enough
        (folder / f"shirt {number}.jpg").write_bytes(content[:2000] + str(number).encode())
    ledger = Ledger.open(folder)
    thumbnail = thumbnail_of(photo)
    for name in ledger.photos():
        sizing = make_sizing(Case(photo=name))
        photo_hash = ledger.hash_of(name)
        ledger.write(name, sizing, photo_hash=photo_hash, settings=Settings())
        ledger.picture_of(name, small=True).write_bytes(thumbnail)
    return ledger


def thumbnail_of(photo):
    """A thumbnail as large as real ones are."""
    from PIL import Image

    out = BytesIO()
    with Image.open(photo) as image:
        image.convert("RGB").resize((300, 400)).save(out, "JPEG", quality=75)
    return out.getvalue()


def first_view(browser, served):
    """Milliseconds from the click to the first garment that can be opened; three visits."""
    context = browser.new_context(viewport={"width": 1400, "height": 900})
    page = context.new_page()
    page.goto(served.fresh_link())
    page.wait_for_selector(".tile a")
    times = []
    for _ in range(3):
        page.goto(served.address, wait_until="commit")
        times.append(page.evaluate(READY))
    page.wait_for_load_state("networkidle")
    loaded = page.evaluate(
        "performance.getEntriesByType('resource').filter((r) => /small/.test(r.name)).length"
    )
    gaps = page.evaluate(FRAMES)
    context.close()
    return times, loaded, gaps


def drags(served, key):
    """Milliseconds of each answer while a box is dragged."""
    with httpx2.Client(base_url=served.address, timeout=90) as client:
        client.headers["Origin"] = served.address
        client.get(served.fresh_link())
        look = client.get(f"/api/garments/{key}").json()
        left, top = (look["frame"][name] for name in ("left", "top"))
        x, y = left + look["frame"]["width"] / 2, top + look["frame"]["height"] / 2
        times = []
        for number in range(DRAGS):
            a, b = 40 + number / 4, 35
            box = [[x - a, y - b], [x + a, y - b], [x + a, y + b], [x - a, y + b]]
            start = time.perf_counter()
            client.post(f"/api/garments/{key}/try", json={"changes": {"box": box}})
            times.append(1000 * (time.perf_counter() - start))
    return times


def phone_shot(photo):
    """The photo as large as a phone would take it, JPEG."""
    from PIL import Image

    out = BytesIO()
    with Image.open(photo) as image:
        size = PHONE_PX if image.width > image.height else PHONE_PX[::-1]
        image.convert("RGB").resize(size, Image.Resampling.LANCZOS).save(
            out, "JPEG", quality=90, exif=image.getexif()
        )
    return out.getvalue()


def shots(browser, folder, photo):
    """Seconds from the choice of a photo on the phone to its size on the screen."""
    content = phone_shot(photo)
    times = []
    with Served(folder, ("--lan",)) as served:
        context = browser.new_context(**PHONE)
        page = context.new_page()
        page.set_default_timeout(90_000)
        page.goto(served.phone_link)
        page.wait_for_selector(".shutter")
        for number in range(SHOTS):
            shot = {"name": f"{number}.jpg", "mimeType": "image/jpeg", "buffer": content}
            start = time.perf_counter()
            page.set_input_files("#shot", shot)
            page.locator("#taken li").nth(number).wait_for()
            times.append(time.perf_counter() - start)
        context.close()
    return times, len(content)


def other_sizes(served):
    """Seconds to answer the whole pile for another set of sizes, and to go back."""
    times = []
    with httpx2.Client(base_url=served.address, timeout=90) as client:
        client.headers["Origin"] = served.address
        client.get(served.fresh_link())
        sizes = [95.25, 120.65, 146.05]
        for _ in range(2):
            start = time.perf_counter()
            told = client.post("/api/sizes/use", json={"sizes_mm": sizes}).json()
            times.append(time.perf_counter() - start)
            sizes = told["before_mm"]
    return times


def main():
    """Print the figures as one line of JSON."""
    photo = Path(sys.argv[1] if len(sys.argv) > 1 else "sample_images/bodysuit-fox.jpg")
    with tempfile.TemporaryDirectory() as folder:
        ledger = make_pile(Path(folder), photo)
        key = ledger.picture_of("shirt 0.jpg").stem
        with Served(Path(folder)) as served, running_browser() as browser:
            times, loaded, gaps = first_view(browser, served)
            answers = drags(served, key)
            resized = other_sizes(served)
        with tempfile.TemporaryDirectory() as phone_pile, running_browser() as browser:
            seconds, size = shots(browser, Path(phone_pile), photo)
    figures = {
        "garments": GARMENTS,
        "first_view_ms": [round(value) for value in times],
        "thumbnails_loaded_at_first": loaded,
        "scroll_frame_ms_median": round(statistics.median(gaps), 1),
        "scroll_frame_ms_95": round(gaps[int(0.95 * len(gaps))], 1),
        "answer_ms_median": round(statistics.median(answers), 1),
        "answer_ms_95": round(sorted(answers)[int(0.95 * len(answers))], 1),
        "other_sizes_s": [round(value, 2) for value in resized],
        "phone_photo_mb": round(size / 1e6, 1),
        "phone_answer_s": [round(value, 2) for value in seconds],
    }
    sys.stdout.write(json.dumps(figures) + "\n")


if __name__ == "__main__":
    main()

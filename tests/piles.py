"""Small piles for the tests: folders of stand-in photos, and what lies on the disk afterwards."""

import json
import signal
import subprocess
import sys
from pathlib import Path

from motiffit.ledger import Ledger
from motiffit.pile import out_of_date, pile_rows, size_pile, write_overview
from motiffit.settings import Settings

FAULTS = Path(__file__).with_name("faults.py")

NASTY = (
    "two words.jpg",
    "-rf.jpg",
    "b\u00e9b\u00e9 \u8863.png",
    "line\nbreak.jpg",
    "=HYPERLINK(0).jpg",
    "+1.jpg",
    "@SUM(1).jpg",
    "<img src=x onerror=document.title=1>.jpg",
    "'; alert(1) \".jpg",
    "\u202egpj.jpg",
)
"""Names that a shell, a spreadsheet, a page or a screen might trip over."""


def make_photos(folder, count=12, names=()):
    """Fill a folder with files that only the stand-in work can size."""
    folder.mkdir(exist_ok=True)
    for name in [*(f"IMG_{number}.jpg" for number in range(1, count + 1)), *names]:
        (folder / name).write_bytes(b"photo " + name.encode("utf-8", "surrogateescape"))
    return folder


def size_all(folder, runner, *, settings=None, photos=None):
    """Size a folder as the command does; return what was sized anew."""
    ledger, settings = Ledger.open(folder), settings or Settings()
    with ledger.running():
        ledger.keep_asked(settings)
        waiting = out_of_date(ledger, settings, photos or ledger.photos())
        sized = list(size_pile(ledger, settings, runner, waiting))
        write_overview(ledger, pile_rows(ledger))
    return sized


def on_disk(folder):
    """Return every file of a pile by its name, but for the locks.

    The page's title is the folder's name; here it is always the same.
    """
    home = folder / "motiffit"
    title = f"{folder.name}: sizes</title>", f"<h1><bdi>{folder.name}</bdi>"
    found = {
        path.relative_to(home).as_posix(): path.read_bytes()
        for path in home.rglob("*")
        if path.is_file() and not path.name.startswith(".")
    }
    if "index.html" in found:
        for words in title:
            found["index.html"] = found["index.html"].replace(words.encode(), b"")
    return found


def differences(one, other):
    """Return the names of files that differ between two folders' `on_disk`."""
    return sorted(name for name in one.keys() | other.keys() if one.get(name) != other.get(name))


def assert_whole(folder):
    """Check that no file of a pile is half-written."""
    for name, content in on_disk(folder).items():
        if name.endswith(".json"):
            assert isinstance(json.loads(content), dict), name
        elif name.endswith(".jpg"):
            assert content.startswith(b"\xff\xd8"), name
            assert len(content) == len(b"\xff\xd8 large ") + 32, name
        elif name.endswith(".html"):
            assert content.endswith(b"</html>"), name
        else:
            assert content.endswith(b"\r\n"), name


def start(folder, work, *words):
    """Start the command on a folder in a process of its own, with failures put in."""
    return subprocess.Popen(
        [sys.executable, str(FAULTS), str(folder), work, *words],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
        preexec_fn=hear_ctrl_c,
    )


def hear_ctrl_c():
    """Hear Ctrl-C again: a shell makes what it runs in the background deaf to it."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)

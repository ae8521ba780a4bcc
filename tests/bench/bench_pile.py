"""How fast a pile is sized, against one worker, against plain decoding, and when nothing changed.

Run: ``python tests/bench/bench_pile.py FOLDER [--count 200] [--memory 100 1000 [--stand-in]]``,
FOLDER holding photos to copy from; with ``--stand-in`` workers take their answers from the records
of FOLDER, a sized pile, instead of measuring, so that only the parent works as it does. All figures
are ratios inside one run: serial and parallel work take turns in blocks over the same photos, so
that whatever else the machine does weighs on both. Figures in docs/pile.md.
"""

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
from itertools import cycle, islice
from pathlib import Path
from time import perf_counter, sleep

from motiffit.ledger import Ledger
from motiffit.measure.photo import read_photo
from motiffit.pile import size_pile
from motiffit.runners import ProcessRunner, available_cores
from motiffit.settings import Settings

BLOCK = 20
TESTS = Path(__file__).resolve().parents[1]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--memory", type=int, nargs=2, metavar=("FEW", "MANY"))
    parser.add_argument("--stand-in", action="store_true")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as place:
        if asked.memory:
            tell_memory(asked.folder, Path(place), *asked.memory, asked.stand_in)
        else:
            copy_photos(asked.folder, Path(place), asked.count)
            tell_speed(Path(place))
            tell_rerun(Path(place))


def copy_photos(source, target, count):
    """Copy photos, over again under other names when there are too few; copies are all new."""
    photos = Ledger(source).photos()
    for number, name in enumerate(islice(cycle(photos), count)):
        copy = target / f"{number:05}{Path(name).suffix}"
        shutil.copy(source / name, copy)
        with copy.open("ab") as file:
            file.write(f"{number}".encode())  # behind the picture's end: another file, same picture


def tell_speed(folder):
    """Let one worker and one per core size the same photos in turns."""
    ledger, settings, cores = Ledger.open(folder), Settings(), available_cores()
    took = {"decode": 0.0, "serial": 0.0, "parallel": 0.0}
    with ProcessRunner(1) as serial, ProcessRunner(cores) as parallel:
        for runner in (serial, parallel):  # started and loaded before the clock runs
            warm = islice(cycle(ledger.photos()), 2 * cores)
            list(size_pile(ledger, settings, runner, warm))
        photos = ledger.photos()
        blocks = [photos[first : first + BLOCK] for first in range(0, len(photos), BLOCK)]
        for number, block in enumerate(blocks):
            ways = [("serial", serial), ("parallel", parallel)]
            for name, runner in ways if number % 2 else reversed(ways):
                start = perf_counter()
                list(size_pile(ledger, settings, runner, block))
                took[name] += perf_counter() - start
            start = perf_counter()
            for photo in block:
                read_photo(folder / photo)
            took["decode"] += perf_counter() - start
    count = len(ledger.photos())
    for name, seconds in took.items():
        say(f"{name:9} {seconds:7.1f} s  {1000 * seconds / count:7.1f} ms a photo")
    say(f"parallel on {cores} cores: {took['serial'] / took['parallel']:.2f} x serial")
    say(f"serial: {took['serial'] / took['decode']:.1f} x plain decoding")


def tell_rerun(folder):
    """Time the command twice on a pile that was never sized."""
    shutil.rmtree(folder / "motiffit")
    first, again = run(folder)[0], run(folder)[0]
    say(f"command   {first:7.1f} s first, {again:.1f} s again: {100 * again / first:.1f} %")


def tell_memory(source, place, few, many, stand_in):
    """Compare the peaks of a small and a large pile: the parent's, and all processes' together."""
    peaks = {}
    for count in (few, many):
        folder = place / str(count)
        folder.mkdir()
        copy_photos(source, folder, count)
        took, parent, together = run(folder, source if stand_in else None)
        peaks[count] = parent, together
        say(f"{count:6} photos: {took:.0f} s, parent {parent:.0f} MB, together {together:.0f} MB")
    for name, at in (("parent", 0), ("together", 1)):
        say(f"{name}: {100 * (peaks[many][at] / peaks[few][at] - 1):+.1f} %")


def run(folder, answers=None):
    """Run the command; return seconds, and peak memory in MB of the parent and of all together."""
    stand_in = [str(TESTS / "faults.py"), str(folder), "remembering_work"]
    command = ["-m", "motiffit", "pile", str(folder)] if answers is None else stand_in
    words = [sys.executable, *command, "--quiet"]
    start = perf_counter()
    process = subprocess.Popen(
        words, stdout=subprocess.DEVNULL, env={**os.environ, "ANSWERS": str(answers or "")}
    )
    peaks = {}
    while process.poll() is None:
        for pid in [process.pid, *children_of(process.pid)]:
            peaks[pid] = max(peaks.get(pid, 0.0), peak_mb(pid))
        sleep(0.05)
    return perf_counter() - start, peaks.get(process.pid, 0.0), sum(peaks.values())


def children_of(pid):
    """Return the processes that a process started."""
    try:
        return map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split())
    except OSError:
        return []


def peak_mb(pid):
    """Return the most memory that a process ever held (VmHWM)."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    except OSError:
        return 0.0
    return sum(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM"))


def say(words):
    sys.stdout.write(f"{words}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()

"""What `size` costs against plain decoding of the same file, stage by stage, and its memory.

Run: ``python tests/bench/bench_size.py [--photo PHOTO] [--rounds 15] [--threads 1]``. Without a
photo it enlarges one of the sample images to 12 megapixels, with the grain of a phone's photo.
Times are CPU times of this process; stages and decoding take turns, so that whatever else the
machine does weighs on all of them. The ratio is the median over the rounds of time over
``cv2.imdecode``'s median. Figures in docs/geometry.md; those of the net's looks in docs/finder.md.
"""

import argparse
import subprocess
import sys
import tempfile
from collections import defaultdict
from pathlib import Path
from time import perf_counter, process_time
from unittest.mock import patch

import cv2
import numpy as np

from motiffit.measure.cloth import separate_cloth
from motiffit.measure.flatview import rectify
from motiffit.measure.motif import find_motifs
from motiffit.measure.network import Network
from motiffit.measure.photo import read_photo
from motiffit.measure.plane import solve_plane
from motiffit.measure.reference import find_reference
from motiffit.settings import Settings
from motiffit.sizing import size_photo

SAMPLE = Path(__file__).resolve().parents[2] / "sample_images" / "bodysuit-fox.jpg"
SIZE_PX, GRAIN, QUALITY = (4032, 3024), 3.0, 92
ALONE = """
import sys
from pathlib import Path
from motiffit.sizing import size_photo
print(size_photo(sys.argv[1]).outcome)
print(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0])  # KiB, Linux only
"""


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--photo", type=Path)
    parser.add_argument("--rounds", type=int, default=15)
    parser.add_argument("--threads", type=int, default=1)
    asked = parser.parse_args()
    cv2.setNumThreads(asked.threads)
    with tempfile.TemporaryDirectory() as place:
        photo = asked.photo or make_photo(Path(place))
        tell_times(photo, asked.rounds)
        tell_looks(photo, asked.rounds)
        tell_memory(photo)


def make_photo(folder):
    """Enlarge a sample image to the size of a phone's photo."""
    small = cv2.imread(str(SAMPLE), cv2.IMREAD_COLOR | cv2.IMREAD_IGNORE_ORIENTATION)
    size = SIZE_PX if small.shape[1] > small.shape[0] else SIZE_PX[::-1]
    large = cv2.resize(small, size, interpolation=cv2.INTER_CUBIC).astype(np.float32)
    large += np.random.default_rng(0).normal(0, GRAIN, large.shape).astype(np.float32)
    path = folder / "photo.jpg"
    cv2.imwrite(str(path), large.clip(0, 255).astype(np.uint8), [cv2.IMWRITE_JPEG_QUALITY, QUALITY])
    return path


def tell_times(path, rounds):
    """Time each stage, all of them in one call, and decoding."""
    data, settings = np.fromfile(path, np.uint8), Settings()
    times = defaultdict(list)

    def timed(name, step):
        start = process_time()
        result = step()
        times[name].append(process_time() - start)
        return result

    for _ in range(rounds + 1):  # the first round loads the net
        timed("cv2.imdecode", lambda: cv2.imdecode(data, cv2.IMREAD_COLOR))
        photo = timed("read_photo", lambda: read_photo(path))
        found = timed("find_reference", lambda p=photo: find_reference(p, settings))
        plane = timed("solve_plane", lambda f=found, p=photo: solve_plane(f, p))
        flat = timed("rectify", lambda p=photo, q=plane: rectify(p, q))
        cloth = timed("separate_cloth", lambda f=flat: separate_cloth(f))
        timed("find_motifs", lambda f=flat, c=cloth: find_motifs(f, c, turn="grain"))
        timed("size_photo", lambda: size_photo(path))
    unit = np.median(times["cv2.imdecode"][1:])
    say(f"{photo.width_px} x {photo.height_px} px, {len(data) / 1e6:.1f} MB")
    for name, each in times.items():
        usual = np.median(each[1:])
        say(f"{name:16} {1e3 * usual:6.1f} ms  {usual / unit:5.2f}")


def tell_looks(path, rounds):
    """Time the net's looks at the photo, all together."""
    looks, answer = [], Network.answer

    def timed(net, *view):
        cpu, wall = process_time(), perf_counter()
        told = answer(net, *view)
        looks.append((process_time() - cpu, perf_counter() - wall))
        return told

    sums = []
    with patch.object(Network, "answer", timed):
        for _ in range(rounds):
            looks.clear()
            size_photo(path)
            sums.append(np.sum(looks, axis=0))
    cpu, wall = 1e3 * np.median(sums, axis=0)
    threads = cv2.getNumThreads()
    say(f"{len(looks)} looks, {threads} threads: CPU {cpu:.0f} ms, {wall:.0f} ms pass")


def tell_memory(path):
    """Size the photo in a process of its own."""
    command = [sys.executable, "-c", ALONE, str(path)]
    outcome, peak = subprocess.check_output(command, text=True).split()
    say(f"alone: {outcome}, {int(peak) / 1024:.0f} MB at the most")


def say(line):
    sys.stdout.write(f"{line}\n")
    sys.stdout.flush()


if __name__ == "__main__":
    main()

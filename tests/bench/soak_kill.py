"""The page's server killed (SIGKILL) at random moments of 200 corrections, again and again.

Run ``python tests/bench/soak_kill.py [KILLS] [SEED]`` with tests/ on the path; not collected by
pytest. Stops with the first pile of which more than the correction under way is missing, or in
which anything is torn; prints the figures as one line of JSON.
"""

import json
import random
import shutil
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent))

from killing import CORRECTIONS, check_after, kill_after
from reviewing import make_photos, open_page

PHOTO = "shirt.png"
_LONGEST_DELAY_S = 0.04  # about what a few corrections take: the kill may meet any step of one


def main():
    """Kill and look."""
    kills = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    chance = random.Random(int(sys.argv[2]) if len(sys.argv) > 2 else 6)
    acknowledged, kept = [], 0
    with tempfile.TemporaryDirectory() as scratch:
        pile = Path(scratch) / "pile"
        pile.mkdir()
        make_photos(pile, PHOTO)
        open_page(pile).review.tidings.size(PHOTO)
        for kill in range(kills):
            folder = Path(shutil.copytree(pile, Path(scratch) / f"killed {kill}"))
            delay_s = chance.uniform(0.0, _LONGEST_DELAY_S)
            done = kill_after(folder, PHOTO, chance.randrange(1, CORRECTIONS - 20), delay_s=delay_s)
            kept += check_after(folder, PHOTO, done)
            acknowledged.append(done)
            shutil.rmtree(folder)
    figures = {
        "kills": kills,
        "acknowledged_least": min(acknowledged),
        "acknowledged_most": max(acknowledged),
        "acknowledged_lost": 0,
        "under_way_kept": kept,
        "under_way_missing": kills - kept,
        "torn": 0,
    }
    sys.stdout.write(json.dumps(figures) + "\n")


if __name__ == "__main__":
    main()

"""Size thousands of spoilt photos and tell how they came out.

Run: ``python tests/bench/spoilt_photos.py [COUNT] [SEED]``. Ends with status 1 when any photo has
no outcome or shows a fault of the program. Figures in docs/pile.md.
"""

import sys
import tempfile
from collections import Counter
from pathlib import Path
from time import perf_counter

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import mutations
import piles

from motiffit.ledger import Ledger
from motiffit.runners import ProcessRunner, available_cores

OUR_FAULT = {"program-fault", "worker-died", "took-too-long", "out-of-memory"}


def main(count=5000, seed=2):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        for name, content in mutations.spoilt_photos(count, seed=seed):
            (folder / name).write_bytes(content)
        start = perf_counter()
        with ProcessRunner(available_cores()) as runner:
            piles.size_all(folder, runner)
        took = perf_counter() - start
        outcomes, reasons, faults = Counter(), Counter(), []
        for entry in Ledger.open(folder).entries():
            outcomes[entry.photo.rpartition(".")[2], entry.sizing.outcome] += 1
            if entry.sizing.outcome == "refused":
                reasons[entry.sizing.messages[0].code] += 1
            faults += [(entry.photo, m.text) for m in entry.sizing.messages if m.code in OUR_FAULT]
    sys.stdout.write(f"{count} spoilt photos, seed {seed}, {took:.0f} s\n")
    for (kind, outcome), number in sorted(outcomes.items()):
        sys.stdout.write(f"  {kind:5} {outcome:9} {number:5}\n")
    for code, number in reasons.most_common():
        sys.stdout.write(f"  refused: {code:20} {number:5}\n")
    for photo, text in faults[:20]:
        sys.stdout.write(f"  FAULT {photo}: {text}\n")
    return 0 if sum(outcomes.values()) == count and not faults else 1


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))

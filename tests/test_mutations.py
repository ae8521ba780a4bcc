"""Spoilt photos: whatever is in a file, it gets an outcome, and none is a fault of the program."""

import mutations
import numpy as np
import piles

from motiffit.ledger import Ledger
from motiffit.runners import ProcessRunner
from motiffit.sizing import size_photo

COUNT = 200
"""Here; 5,000 by ``tests/bench/spoilt_photos.py``, whose figures stand in docs/pile.md."""

NEVER = {"program-fault", "worker-died", "took-too-long", "out-of-memory"}


def test_every_spoilt_photo_has_an_outcome_and_none_is_our_fault(tmp_path):
    for name, content in mutations.spoilt_photos(COUNT, seed=1):
        (tmp_path / name).write_bytes(content)
    with ProcessRunner(2) as runner:
        piles.size_all(tmp_path, runner)
    entries = list(Ledger.open(tmp_path).entries())
    codes = {entry.photo: {m.code for m in entry.sizing.messages} for entry in entries}
    assert len(codes) == COUNT
    assert {photo: found & NEVER for photo, found in codes.items() if found & NEVER} == {}
    # some photos must survive and be measured, others fail in several ways: else nothing was tried
    outcomes = {entry.sizing.outcome for entry in entries}
    assert outcomes & {"sized", "check"}
    assert {"photo-truncated", "photo-unreadable", "no-reference"} <= set.union(*codes.values())


def test_whole_photos_are_whole(tmp_path):
    for number, (suffix, content) in enumerate(mutations.whole_photos()):
        path = tmp_path / f"{number}{suffix}"
        path.write_bytes(content)
        code = size_photo(path).messages[:1]
        assert not code or not code[0].code.startswith("photo-"), path.name


def test_spoiling_repeats_itself():
    one = list(mutations.spoilt_photos(12, seed=5))
    assert one == list(mutations.spoilt_photos(12, seed=5))
    whole = mutations.whole_photos()
    assert sum(content != whole[n % 6][1] for n, (_, content) in enumerate(one)) >= 11
    rng = np.random.default_rng(0)
    assert mutations.spoil(b"", rng) is not None

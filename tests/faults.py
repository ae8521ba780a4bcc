"""Injected failures: work that dies, hangs or is slow, and a run that is killed at a given point.

The functions stand in for `motiffit.runners.run_task`; they must be importable by a new process.
Run as a program it sizes a folder like the command does, with the failures asked for::

    faults.py FOLDER WORK [ARGUMENT OF 'motiffit pile' ...]
    faults.py --kill-points STAGE FOLDER N ...      (runs over FOLDER/N, each killed at its N)
"""

import hashlib
import os
import signal
import sys
import time
from dataclasses import replace
from functools import cache, partial
from pathlib import Path

import records

from motiffit.ledger import Ledger
from motiffit.record import make_message, refused_sizing
from motiffit.task import Done, hash_or_none, program_version

STAGES = ("before-write", "half-written", "before-replace", "after-replace")
"""Points within the writing of one file at which a process can be killed."""


def quick_work(task):
    """Make a record and pictures from a photo's content alone, in a millisecond."""
    digest = hashlib.sha256(Path(task.path).read_bytes()).digest()
    width, height = 40 + digest[0] / 4, 40 + digest[1] / 4
    case = records.Case(
        photo=task.path, motifs_mm=((200.0, -180.0, width, height),), settings=task.settings
    )
    if digest[2] < 25:
        message = make_message("no-reference")
        sizing = refused_sizing(task.path, task.settings, message)
    else:
        sizing = records.make_sizing(case)
    return Done(
        task=task,
        sizing=sizing,
        photo_hash=hash_or_none(task.path),
        picture=b"\xff\xd8 large " + digest,
        thumbnail=b"\xff\xd8 small " + digest,
        program=program_version(),
    )


def slow_work(task):
    """Take a moment, so that a run can be disturbed while it is under way."""
    time.sleep(0.05)
    return quick_work(task)


def deadly_work(task):
    """Die on every photo whose name says so, every time."""
    if "deadly" in Path(task.path).name:
        os.kill(os.getpid(), signal.SIGKILL)
    return quick_work(task)


def unlucky_work(task):
    """Die on a photo whose name says so, the first time only."""
    path = Path(task.path)
    mark = path.with_name(f".{path.stem}.died")
    if "unlucky" in path.name and not mark.exists():
        mark.touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return quick_work(task)


def hanging_work(task):
    """Never come back from a photo whose name says so."""
    while "hanging" in Path(task.path).name:
        time.sleep(60)
    return quick_work(task)


def remembering_work(task):
    """Answer with a real record and its pictures, taken in turn from the pile in $ANSWERS."""
    ledger = Ledger(Path(os.environ["ANSWERS"]))
    entries = _entries_of(ledger)
    entry = entries[int(Path(task.path).stem) % len(entries)]
    return Done(
        task=task,
        sizing=replace(entry.sizing, photo=task.path, settings=task.settings),
        photo_hash=hash_or_none(task.path),
        picture=ledger.picture_of(entry.photo).read_bytes(),
        thumbnail=ledger.picture_of(entry.photo, small=True).read_bytes(),
        program=program_version(),
    )


@cache
def _entries_of(ledger):
    return [entry for entry in ledger.entries() if ledger.picture_of(entry.photo).is_file()]


def raising_work(task):
    """Raise what no program should raise."""
    raise RuntimeError(f"broken on {Path(task.path).name}")


def kill_at(number, stage):
    """Arrange that this process is killed (-9) within the writing of its n-th file."""
    from motiffit import files

    real_sync, real_replace, counted = os.fsync, Path.replace, iter(range(1, 10**9))
    state = {"now": 0}

    def die_if(point):
        if state["now"] == number and point == stage:
            os.kill(os.getpid(), signal.SIGKILL)

    def create(path, real=files._create):
        state["now"] = next(counted)
        die_if("before-write")
        return real(path)

    def sync(handle):
        if state["now"] == number and stage == "half-written":
            os.ftruncate(handle, os.fstat(handle).st_size // 2)
            real_sync(handle)
            die_if("half-written")
        real_sync(handle)

    def replace(self, target):
        die_if("before-replace")
        moved = real_replace(self, target)
        die_if("after-replace")
        return moved

    files._create = create
    files.os.fsync = sync
    Path.replace = replace


def kill_points(stage, base, *numbers):
    """Run over one folder per number, each killed there, and print how each run ended."""
    import piles

    from motiffit.runners import SerialRunner

    for number in numbers:
        child = os.fork()
        if child == 0:
            kill_at(int(number), stage)
            piles.size_all(Path(base) / number, SerialRunner(work=quick_work))
            os._exit(0)
        status = os.waitpid(child, 0)[1]
        sys.stdout.write(f"{os.waitstatus_to_exitcode(status)}\n")


def main(folder, work, *words):
    """Run the command with failing work."""
    from motiffit.cli import pile_run
    from motiffit.cli.app import main as command
    from motiffit.runners import ProcessRunner

    pile_run.ProcessRunner = partial(ProcessRunner, work=globals()[work])
    sys.argv = ["motiffit", "pile", folder, *words]
    command()


if __name__ == "__main__":
    # a process started by spawn runs this file again under another name, so work is taken from
    # the module that it imports
    import faults

    if sys.argv[1] == "--kill-points":
        faults.kill_points(*sys.argv[2:])
    else:
        faults.main(*sys.argv[1:])

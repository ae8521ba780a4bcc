"""What a pile survives: killed workers and runs, hanging photos, full and read-only disks."""

import errno
import os
import signal
import subprocess
import sys
import tempfile
import time
from contextlib import nullcontext
from pathlib import Path

import faults
import piles
import pytest
from typer.testing import CliRunner

from motiffit.cli.app import app
from motiffit.errors import ExitStatus, FileError
from motiffit.ledger import Ledger
from motiffit.lock import Busy
from motiffit.runners import ProcessRunner, SerialRunner, run_task
from motiffit.settings import Settings
from motiffit.task import Task

QUICK = SerialRunner(work=faults.quick_work)
WAIT_S = 120  # how long a started process may take at most; far more than it does


def undisturbed(folder, count, names=()):
    """Return what a run that nothing disturbs leaves on the disk."""
    piles.size_all(piles.make_photos(folder, count, names), QUICK)
    return piles.on_disk(folder)


# -- workers --------------------------------------------------------------------------------------


def test_photo_that_kills_its_worker_is_refused_by_name_and_the_pile_goes_on(tmp_path):
    piles.make_photos(tmp_path, 8, ["deadly.jpg"])
    with ProcessRunner(2, work=faults.deadly_work) as runner:
        sized = {one.photo: one.sizing for one in piles.size_all(tmp_path, runner)}
    assert sized["deadly.jpg"].outcome == "refused"
    assert [message.code for message in sized["deadly.jpg"].messages] == ["worker-died"]
    assert len(sized) == 9
    assert {e.photo for e in Ledger.open(tmp_path).entries()} == set(sized)
    # not remembered: the next run tries it again, and only it
    assert [one.photo for one in piles.size_all(tmp_path, QUICK)] == ["deadly.jpg"]


def test_photo_whose_worker_was_killed_by_accident_gets_its_answer(tmp_path):
    expected = undisturbed(tmp_path / "calm", 6, ["unlucky.jpg"])
    folder = piles.make_photos(tmp_path / "storm", 6, ["unlucky.jpg"])
    with ProcessRunner(2, work=faults.unlucky_work) as runner:
        piles.size_all(folder, runner)
    assert (folder / ".unlucky.died").exists()
    assert piles.differences(piles.on_disk(folder), expected) == []


def test_workers_killed_again_and_again_change_nothing(tmp_path):
    expected = undisturbed(tmp_path / "calm", 16)
    folder = piles.make_photos(tmp_path / "storm", 16)
    killed = []
    with ProcessRunner(2, work=faults.slow_work) as runner:

        class Storm:
            def run(self, tasks):
                for number, done in enumerate(runner.run(tasks), start=1):
                    if number % 5 == 0:
                        process = runner._workers[0].process
                        killed.append(process.pid)
                        process.kill()
                    yield done

        piles.size_all(folder, Storm())
    assert len(set(killed)) >= 2
    assert piles.differences(piles.on_disk(folder), expected) == []


def test_photo_that_never_ends_is_given_up(tmp_path):
    piles.make_photos(tmp_path, 0, ["hanging.jpg"])
    with ProcessRunner(1, work=faults.hanging_work, give_up_s=0.3) as runner:
        sized = piles.size_all(tmp_path, runner)
    assert [message.code for message in sized[0].sizing.messages] == ["took-too-long"]


def test_no_process_is_left_behind(tmp_path):
    piles.make_photos(tmp_path, 2, ["hanging.jpg"])
    with ProcessRunner(2, work=faults.hanging_work) as runner:
        tasks = runner.run(task for task in make_tasks(tmp_path))
        next(tasks)
        pids = [worker.process.pid for worker in runner._workers]
    assert pids
    assert not any(is_alive(pid) for pid in pids)


def make_tasks(folder):
    ledger = Ledger.open(folder)
    for photo in ledger.photos():
        yield Task(photo=photo, path=str(ledger.path_of(photo)), settings=Settings())


def is_alive(pid):
    """Tell whether a process runs; one that ended but was not collected does not."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def test_process_that_cannot_be_started_says_so(tmp_path, monkeypatch):
    # as when the system allows no more processes
    def refuse(self, process):
        raise OSError(errno.EAGAIN, os.strerror(errno.EAGAIN))

    monkeypatch.setattr("multiprocessing.popen_spawn_posix.Popen._launch", refuse)
    piles.make_photos(tmp_path, 1)
    with pytest.raises(FileError, match="cannot start a process"), ProcessRunner(1) as runner:
        piles.size_all(tmp_path, runner)


# -- the run itself -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def calm(tmp_path_factory):
    """What a run over five photos leaves when nothing disturbs it."""
    return undisturbed(tmp_path_factory.mktemp("calm"), 5)


@pytest.mark.parametrize("stage", faults.STAGES)
def test_run_killed_while_it_writes_a_file_goes_on_from_there(tmp_path, calm, stage):
    # files of a run: the probe, what is asked, then two pictures and a record for each photo, table
    # and page
    points = [1, 2, 3, 4, 5, 8, 11, 16, 17, 18, 19]
    for number in points:
        piles.make_photos(tmp_path / str(number), 5)
    words = [sys.executable, faults.__file__, "--kill-points", stage, str(tmp_path)]
    told = subprocess.run([*words, *map(str, points)], capture_output=True, check=True, text=True)
    assert told.stdout.split() == ["-9"] * len(points), told.stderr
    for number in points:
        folder = tmp_path / str(number)
        piles.assert_whole(folder)
        kept = len(list(folder.glob("motiffit/records/*.json")))
        written = number if stage == "after-replace" else number - 1
        assert kept == min(max(written - 2, 0) // 3, 5), number
        assert len(piles.size_all(folder, QUICK)) == 5 - kept, "the finished is not done again"
        assert piles.differences(piles.on_disk(folder), calm) == [], number


def test_killed_run_leaves_no_worker_and_no_lock(tmp_path):
    expected = undisturbed(tmp_path / "calm", 30)
    folder = piles.make_photos(tmp_path / "storm", 30)
    run = piles.start(folder, "slow_work", "--jobs", "2")
    wait_for(lambda: len(list(folder.glob("motiffit/records/*.json"))) >= 4, run)
    workers = children_of(run.pid)
    run.kill()
    run.communicate(timeout=WAIT_S)
    wait_for(lambda: not any(is_alive(pid) for pid in workers))
    piles.assert_whole(folder)
    assert 4 <= len(list(folder.glob("motiffit/records/*.json"))) < 30
    piles.size_all(folder, QUICK)
    assert piles.differences(piles.on_disk(folder), expected) == []


def test_ctrl_c_keeps_what_is_finished_and_says_how_to_go_on(tmp_path):
    # a photo hangs for ever: only because the run ends at once does the test end at all
    piles.make_photos(tmp_path, 4, ["hanging.jpg"])
    run = piles.start(tmp_path, "hanging_work", "--jobs", "2")
    wait_for(lambda: len(list(tmp_path.glob("motiffit/records/*.json"))) == 4, run)
    workers = children_of(run.pid)
    os.killpg(run.pid, signal.SIGINT)  # as a terminal does: to the workers too
    out, err = run.communicate(timeout=WAIT_S)
    assert run.returncode == 130
    assert "4 photos are finished and kept" in err
    assert "same command again" in err
    assert "Traceback" not in err
    assert out == ""
    # the workers are gone by then; Python's own helper process ends when it sees that
    wait_for(lambda: not any(is_alive(pid) for pid in workers))
    assert len(list(Ledger.open(tmp_path).entries())) == 4


def test_ctrl_c_right_after_a_record_was_written_counts_it(tmp_path, monkeypatch):
    def write_and_stop(self, photo, *details, real=Ledger.write, **more):
        real(self, photo, *details, **more)
        if photo == "IMG_2.jpg":
            raise KeyboardInterrupt
        return True

    monkeypatch.setattr(Ledger, "write", write_and_stop)
    monkeypatch.setattr("motiffit.cli.pile_run._runner", lambda *_: nullcontext(QUICK))
    told = CliRunner().invoke(app, ["pile", str(piles.make_photos(tmp_path, 3))])
    assert told.exit_code == ExitStatus.INTERRUPTED
    assert "Stopped. 2 photos are finished and kept" in told.stderr


def test_second_run_at_the_same_time_is_turned_away_and_harms_nothing(tmp_path):
    piles.make_photos(tmp_path, 2, ["hanging.jpg"])
    run = piles.start(tmp_path, "hanging_work", "--jobs", "2")
    wait_for(lambda: len(list(tmp_path.glob("motiffit/records/*.json"))) == 2, run)
    second = piles.start(tmp_path, "quick_work")
    _, err = second.communicate(timeout=WAIT_S)
    assert second.returncode == 2
    assert "in use by another run" in err
    with pytest.raises(Busy), Ledger.open(tmp_path).running():
        pass
    os.killpg(run.pid, signal.SIGKILL)
    run.communicate(timeout=WAIT_S)
    assert [one.photo for one in piles.size_all(tmp_path, QUICK)] == ["hanging.jpg"]


def wait_for(is_true, run=None):
    """Wait until something holds; fail when the process ends first, or after a long time."""
    for _ in range(WAIT_S * 50):
        if is_true():
            return
        if run is not None and run.poll() is not None:
            raise AssertionError(f"ended with {run.returncode}: {run.communicate()}")
        time.sleep(0.02)
    if run is not None:
        os.killpg(run.pid, signal.SIGKILL)
        run.communicate()
    raise AssertionError("it never came")


def children_of(pid):
    """Return the processes that a process started."""
    return [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


# -- disks ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("number", [2, 3, 4, 8, 17, 18])
def test_full_disk_keeps_what_was_finished_and_says_so(tmp_path, monkeypatch, number):
    expected = undisturbed(tmp_path / "calm", 5)
    folder = piles.make_photos(tmp_path / "full", 5)
    written = iter(range(1, 1000))

    def full(handle, real=os.fsync):
        if next(written) >= number:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(handle)

    with monkeypatch.context() as patched:
        patched.setattr("motiffit.files.os.fsync", full)
        with pytest.raises(FileError, match="No space left"):
            piles.size_all(folder, QUICK)
    piles.assert_whole(folder)
    assert not list(folder.rglob("*.part"))
    kept = len(list(folder.glob("motiffit/records/*.json")))
    assert len(piles.size_all(folder, QUICK)) == 5 - kept
    assert piles.differences(piles.on_disk(folder), expected) == []


def test_file_that_grows_too_large_for_the_system(tmp_path):
    # a real refusal by the kernel (EFBIG), as on a file system with a limit
    piles.make_photos(tmp_path, 2)
    script = (
        "import resource, sys, pathlib; sys.path.insert(0, sys.argv[1]); import faults, piles\n"
        "from motiffit.runners import SerialRunner\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "piles.size_all(pathlib.Path(sys.argv[2]), SerialRunner(work=faults.quick_work))"
    )
    words = [sys.executable, "-c", script, str(Path(__file__).parent), str(tmp_path)]
    told = subprocess.run(words, capture_output=True, text=True)
    assert "motiffit.errors.FileError: cannot write" in told.stderr
    assert os.strerror(errno.EFBIG) in told.stderr
    piles.assert_whole(tmp_path)
    assert not list(tmp_path.rglob("*.part"))
    assert len(piles.size_all(tmp_path, QUICK)) == 2


@pytest.fixture
def read_only():
    """Give a folder of photos that this process may not write, even where it runs as root."""
    with tempfile.TemporaryDirectory(dir="/tmp") as place:
        folder = piles.make_photos(Path(place) / "photos", 2)
        Path(place).chmod(0o755)
        folder.chmod(0o555)
        is_root = os.geteuid() == 0
        if is_root:
            os.seteuid(65534)  # nobody: root may write anywhere
        try:
            yield folder
        finally:
            if is_root:
                os.seteuid(0)
            folder.chmod(0o755)


def test_read_only_folder_is_told_before_any_work(read_only):
    def work(task):
        raise AssertionError("nothing should be sized")

    with pytest.raises(FileError, match="Permission denied"):
        piles.size_all(read_only, SerialRunner(work=work))


def test_photo_that_may_not_be_read_is_refused_and_tried_again(tmp_path, monkeypatch):
    from motiffit.measure import photo as reading

    (tmp_path / "a.jpg").write_bytes(b"x")

    opened = reading.Path.open

    def denied(path, *args, **kwargs):
        if path.name == "a.jpg":
            raise PermissionError(errno.EACCES, "Permission denied")
        return opened(path, *args, **kwargs)

    with monkeypatch.context() as patched:
        patched.setattr(reading.Path, "open", denied)
        task = next(make_tasks(tmp_path))
        done = run_task(task)
    assert [message.code for message in done.sizing.messages] == ["file-denied"]
    piles.size_all(tmp_path, SerialRunner(work=lambda _: done))
    assert [one.photo for one in piles.size_all(tmp_path, QUICK)] == ["a.jpg"]


def test_fault_of_ours_on_one_photo_is_a_refusal_that_asks_for_a_report(tmp_path, monkeypatch):
    from motiffit import working

    piles.make_photos(tmp_path, 1)
    monkeypatch.setattr(working, "size_photo", lambda *_: faults.raising_work(next(tasks)))
    tasks = make_tasks(tmp_path)
    done = run_task(next(make_tasks(tmp_path)))
    message = done.sizing.messages[0]
    assert message.code == "program-fault"
    assert "RuntimeError: broken on IMG_1.jpg" in message.text
    assert "report" in message.text


def test_memory_that_runs_out_is_the_machines_fault(tmp_path, monkeypatch):
    from motiffit import working

    piles.make_photos(tmp_path, 1)

    def no_memory(*_):
        raise MemoryError

    monkeypatch.setattr(working, "draw_overlay", no_memory)
    monkeypatch.setattr(working, "read_photo", no_memory)
    done = run_task(next(make_tasks(tmp_path)))
    assert [message.code for message in done.sizing.messages] == ["out-of-memory"]

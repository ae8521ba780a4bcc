"""The same work on a Dask cluster: a real scheduler and two workers on this machine."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import faults
import piles
import pytest
from test_pile_faults import WAIT_S, wait_for

from motiffit.cluster import ClusterRunner
from motiffit.errors import FileError
from motiffit.ledger import Ledger
from motiffit.runners import SerialRunner

distributed = pytest.importorskip("distributed", reason="the extra 'cluster' is not installed")

# Dask leaves sockets to the garbage collector when a worker it talks to is killed
pytestmark = pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")


def start(*words):
    path = os.pathsep.join([str(Path(__file__).parent), os.environ.get("PYTHONPATH", "")])
    return subprocess.Popen(
        [sys.executable, "-m", "distributed.cli." + words[0], *words[1:]],
        env={**os.environ, "PYTHONPATH": path},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    """Give the address of a scheduler with two workers of one thread each, under a nanny."""
    place = tmp_path_factory.mktemp("cluster")
    file = place / "scheduler.json"
    scheduler = start("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                      "--scheduler-file", str(file))  # fmt: skip
    wait_for(file.exists, scheduler)
    wait_for(lambda: file.stat().st_size > 0, scheduler)
    address = json.loads(file.read_text())["address"]
    workers = [
        start("dask_worker", address, "--host", "127.0.0.1", "--nthreads", "1", "--no-dashboard",
              "--local-directory", str(place / str(number)))
        for number in range(2)
    ]  # fmt: skip
    with distributed.Client(address, timeout=WAIT_S) as client:
        client.wait_for_workers(2, timeout=WAIT_S)
    yield address
    for process in [*workers, scheduler]:
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()


def test_cluster_answers_as_one_process_does(tmp_path, address):
    alone = piles.make_photos(tmp_path / "alone", 20)
    piles.size_all(alone, SerialRunner(work=faults.quick_work))
    spread = piles.make_photos(tmp_path / "spread", 20)
    with ClusterRunner(address, work=faults.quick_work) as runner:
        piles.size_all(spread, runner)
    assert piles.differences(piles.on_disk(spread), piles.on_disk(alone)) == []


def test_killed_worker_of_the_cluster_is_survived(tmp_path, address):
    alone = piles.make_photos(tmp_path / "alone", 6, ["unlucky.jpg"])
    piles.size_all(alone, SerialRunner(work=faults.quick_work))
    spread = piles.make_photos(tmp_path / "spread", 6, ["unlucky.jpg"])
    with ClusterRunner(address, work=faults.unlucky_work) as runner:
        piles.size_all(spread, runner)
    assert (spread / ".unlucky.died").exists()
    assert piles.differences(piles.on_disk(spread), piles.on_disk(alone)) == []


def test_photo_that_kills_one_worker_after_another_is_refused(tmp_path, address):
    piles.make_photos(tmp_path, 3, ["deadly.jpg"])
    with ClusterRunner(address, work=faults.deadly_work) as runner:
        piles.size_all(tmp_path, runner)
    outcomes = {entry.photo: entry.sizing for entry in Ledger.open(tmp_path).entries()}
    assert [message.code for message in outcomes["deadly.jpg"].messages] == ["worker-died"]
    assert len(outcomes) == 4


def test_no_scheduler_there(monkeypatch):
    monkeypatch.setattr("motiffit.cluster._CONNECT_S", 0.2)
    with pytest.raises(FileError, match="no scheduler answers"), ClusterRunner("tcp://127.0.0.1:9"):
        pass

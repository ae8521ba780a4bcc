"""The review page as a person starts it: a process of its own, and a way in."""

import re
import signal
import subprocess
import sys
import threading
import time
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import httpx2

WAIT_S = 90  # a machine that is busy with other tests


@dataclass
class Served:
    """A running 'motiffit review'; use as a context manager."""

    folder: Path
    words: tuple[str, ...] = ()
    lines: list[str] = field(default_factory=list)
    _keeper: httpx2.Client | None = None

    def __enter__(self):
        self.process = subprocess.Popen(
            [sys.executable, "-m", "motiffit", "review", str(self.folder), "--no-browser",
             "--port", "0", "--jobs", "1", *self.words],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )  # fmt: skip
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        deadline = time.monotonic() + WAIT_S
        while not self.link and self.process.poll() is None and time.monotonic() < deadline:
            time.sleep(0.05)
        assert self.link, "".join(self.lines)
        return self

    def __exit__(self, *_):
        if self._keeper is not None:
            self._keeper.close()
        self.stop(signal.SIGKILL)

    def _read(self):
        for line in self.process.stdout:
            self.lines.append(line)

    @property
    def link(self):
        """The one-time link that was printed, once its end was too."""
        found = re.search(r"(http://127\S+/enter/\S+)\n", "".join(self.lines))
        return found[1] if found else ""

    @property
    def phone_link(self):
        """The link for a phone; printed last, so waited for."""
        deadline = time.monotonic() + WAIT_S
        while time.monotonic() < deadline:
            found = re.findall(r"(http://\S+/enter/\S+)\n", "".join(self.lines))
            if len(found) > 1:
                return found[1]
            time.sleep(0.05)
        raise AssertionError("".join(self.lines))

    @property
    def phone_code(self):
        """The lines of the code to scan, as the terminal shows them."""
        code = re.compile("[ \u2588\u2580\u2584]{25,}")
        return [row for line in self.lines if code.fullmatch(row := line.rstrip("\n"))]

    @property
    def address(self):
        return self.link.partition("/enter/")[0]

    def fresh_link(self):
        """A link for one more browser, asked for as the page asks."""
        if self._keeper is None:
            self._keeper = httpx2.Client(
                base_url=self.address, timeout=WAIT_S, headers={"Origin": self.address}
            )
            assert self._keeper.get(self.link).status_code == 200
        return self._keeper.post("/api/links", json={}).json()["link"]

    def stop(self, kind):
        """Send a signal and wait for the end; return the exit status."""
        if self.process.poll() is None:
            self.process.send_signal(kind)
        status = self.process.wait(WAIT_S)
        self._reader.join()
        self.process.stdout.close()
        return status

    @contextmanager
    def client(self):
        """A client that was let in."""
        headers = {"Origin": self.address}
        with httpx2.Client(base_url=self.address, timeout=WAIT_S, headers=headers) as client:
            assert client.get(self.link).status_code == 200
            yield client

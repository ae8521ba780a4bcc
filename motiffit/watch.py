"""Following a folder into which a camera or a phone puts photos."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from threading import Event
from time import monotonic

from motiffit.errors import FileError
from motiffit.ledger import Ledger

__all__ = ["Settling", "Signature", "arrivals", "signatures"]

QUIET_S = 2.0
"""A file that did not grow for so long is taken as whole; a stalled copy that goes on later is
seen as changed and sized again."""

_LOOK_MS = 500  # how often to look while files are settling, and at least

Signature = tuple[int, int]
"""Size and time of the last change (ns)."""


@dataclass(slots=True)
class Settling:
    """Tells which files have stopped growing since the last look.

    Attributes
    ----------
    seen
        Files that need no attention as long as they stay as they are.
    """

    seen: dict[str, Signature]
    _pending: dict[str, tuple[Signature, float]] = field(default_factory=dict)

    def look(self, now_there: Mapping[str, Signature], *, now_s: float) -> list[str]:
        """Return files that are new or changed and have been quiet since a while.

        Parameters
        ----------
        now_there
            What is in the folder now.
        now_s
            The time of a clock that never goes back.
        """
        self.seen = {name: mark for name, mark in self.seen.items() if name in now_there}
        before, self._pending = self._pending, {}
        settled = []
        for name, signature in now_there.items():
            if self.seen.get(name) == signature:
                continue
            last, since = before.get(name, (None, now_s))
            if last != signature or signature[0] == 0:
                self._pending[name] = (signature, now_s)
            elif now_s - since < QUIET_S:
                self._pending[name] = (signature, since)
            else:
                self.seen[name] = signature
                settled.append(name)
        return settled


def arrivals(ledger: Ledger, seen: dict[str, Signature], stop: Event) -> Iterator[list[str]]:
    """Yield the names of photos that came or changed, once they are whole, until told to stop.

    Parameters
    ----------
    ledger
        The pile whose folder is followed.
    seen
        `signatures` as they were when all photos were last sized.
    stop
        Ends the watch when set.

    Raises
    ------
    FileError
        If the folder is taken away.
    """
    # imported here because few runs watch
    from watchfiles import watch

    settling = Settling(seen)
    events = watch(
        ledger.folder,
        recursive=False,
        watch_filter=None,
        rust_timeout=_LOOK_MS,
        yield_on_timeout=True,
        stop_event=stop,
        raise_interrupt=True,
    )
    for _ in events:
        if not ledger.folder.is_dir():
            raise FileError(f"{ledger.folder} is no longer there")
        settled = settling.look(signatures(ledger), now_s=monotonic())
        if settled:
            yield settled


def signatures(ledger: Ledger) -> dict[str, Signature]:
    """Return size and time of change of every photo in the folder."""
    found = {}
    for photo in ledger.photos():
        try:
            state = ledger.path_of(photo).stat()
        except OSError:
            continue
        found[photo] = (state.st_size, state.st_mtime_ns)
    return found

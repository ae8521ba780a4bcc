"""The moving lines of a run over a pile: how many, how fast, how long still, the last answers."""

from collections import deque
from types import TracebackType
from typing import Self

from rich.console import Console, Group
from rich.live import Live
from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    ProgressColumn,
    Task,
    TextColumn,
    TimeRemainingColumn,
)
from rich.text import Text

from motiffit.cli.terminal import clean_name
from motiffit.pile import Sized
from motiffit.show.table import headline

__all__ = ["PileProgress"]

_LAST = 5
_COLOURS = {"sized": "green", "check": "yellow", "no-motif": "cyan", "refused": "red"}


class PileProgress:
    """Shows on stderr what is going on; silent off a terminal. Use as a context manager."""

    def __init__(self, total: int, *, is_shown: bool) -> None:
        console = Console(stderr=True)
        self._bar = Progress(
            TextColumn("Sizing"),
            BarColumn(),
            MofNCompleteColumn(),
            _RateColumn(),
            TimeRemainingColumn(),
            TextColumn("left"),
            console=console,
        )
        self._task = self._bar.add_task("", total=total)
        self._last: deque[Text] = deque(maxlen=_LAST)
        self._live = Live(console=console, get_renderable=self._lines, transient=True)
        self._is_shown = is_shown and total > 0 and console.is_terminal

    def __enter__(self) -> Self:
        """Show the bar."""
        if self._is_shown:
            self._live.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        """Take the lines away."""
        if self._is_shown:
            self._live.stop()

    def tell(self, sized: Sized) -> None:
        """Show an answer and count it."""
        self._bar.advance(self._task)
        name = Text(f"{clean_name(sized.photo)}: ", overflow="ellipsis", no_wrap=True)
        name.append(headline(sized.sizing), style=_COLOURS[sized.sizing.outcome])
        self._last.append(name)

    def _lines(self) -> Group:
        """Return the last answers over the bar."""
        return Group(*self._last, self._bar)


class _RateColumn(ProgressColumn):
    """Photos per second, or per minute where they are slow."""

    def render(self, task: Task) -> Text:
        """Return the rate in words."""
        speed = task.finished_speed or task.speed
        if not speed:
            return Text("")
        slow = speed < 1
        return Text(f"{speed * 60:.0f} a minute" if slow else f"{speed:.1f} a second", style="dim")

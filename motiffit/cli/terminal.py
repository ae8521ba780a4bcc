"""What the commands put on the screen: names made safe, colour, width, progress."""

import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NoReturn

import typer

from motiffit.errors import ExitStatus
from motiffit.record import Sizing

__all__ = [
    "Progress",
    "clean_name",
    "fail",
    "has_colour",
    "hold_stdout",
    "screen_width",
    "tell",
    "tell_aside",
    "write_json",
]

_WIDEST = 100
"""Columns; longer lines are hard to read."""

_STDOUT = 1  # where compiled code writes, whatever Python's own stdout is

_COLOURS = {"sized": "green", "check": "yellow", "no-motif": "cyan", "refused": "red"}


def clean_name(name: str) -> str:
    """Return a file name without anything that could steer the terminal.

    Examples
    --------
    >>> clean_name("bib" + chr(27) + "[31m.jpg")
    'bib?[31m.jpg'
    """
    return "".join(letter if letter.isprintable() else "?" for letter in name)


def screen_width() -> int:
    """Return the columns to fill: those of the terminal, or 80."""
    return min(shutil.get_terminal_size((80, 24)).columns, _WIDEST) if _is_terminal() else 80


def has_colour() -> bool:
    """Tell whether the screen shows colours and the user wants them (no-color.org)."""
    return _is_terminal() and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb"


def tell(text: str, sizing: Sizing) -> None:
    """Print a text on a sizing, its first line in the colour of the outcome."""
    first, *rest = text.split("\n", 1)
    if has_colour():
        first = typer.style(first, fg=_COLOURS[sizing.outcome], bold=True)
    typer.echo("\n".join([first, *rest]))


@contextmanager
def hold_stdout() -> Iterator[None]:
    """Let nothing reach stdout meanwhile: compiled code, as the solver's, writes past Python.

    It holds for the whole process, so it is for a command that works and then prints.
    """
    try:
        kept = os.dup(_STDOUT)
    except OSError:  # closed: nothing can reach it
        yield
        return
    try:
        with Path(os.devnull).open("wb") as nowhere:
            os.dup2(nowhere.fileno(), _STDOUT)
        yield
    finally:
        os.dup2(kept, _STDOUT)
        os.close(kept)


def write_json(sizing: Sizing) -> None:
    """Print a record as one line of JSON in UTF-8, whatever the terminal's encoding."""
    # a name that is no valid text holds lone surrogates: these become JSON's own escapes
    typer.echo(sizing.to_json().encode("utf-8", "backslashreplace"))


def tell_aside(words: str) -> None:
    """Say on stderr what a person may want to know beside the answer."""
    typer.echo(f"motiffit: {clean_name(words)}", err=True)


def fail(reason: str) -> NoReturn:
    """Say on stderr what is wrong and end as wrong usage."""
    tell_aside(reason)
    raise typer.Exit(ExitStatus.USAGE)


class Progress:
    """One line on stderr that says which photo is being measured; silent off a terminal."""

    def __init__(self, total: int, *, wanted: bool) -> None:
        self._total = total
        self._shown = wanted and total > 1 and sys.stderr.isatty()

    def show(self, number: int, name: str) -> None:
        """Name the photo now at work, counting from 1."""
        if self._shown:
            words = f"{number}/{self._total} {clean_name(name)}"[: screen_width() - 1]
            typer.echo(f"\r\x1b[K{words}", nl=False, err=True)

    def clear(self) -> None:
        """Take the line away before something else is printed."""
        if self._shown:
            typer.echo("\r\x1b[K", nl=False, err=True)


def _is_terminal() -> bool:
    """Tell whether results go to a screen."""
    return sys.stdout.isatty()

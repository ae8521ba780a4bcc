"""One run over a pile: progress on stderr, the answers on stdout, an orderly stop."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from json import dumps
from pathlib import Path
from threading import Event
from typing import Literal

import typer

from motiffit.cli.pile_progress import PileProgress
from motiffit.cli.terminal import clean_name, fail, screen_width, tell, tell_aside
from motiffit.cluster import ClusterRunner
from motiffit.errors import ExitStatus, FileError
from motiffit.garments import TABLE_NAME, heed_table
from motiffit.ledger import Entry, Ledger
from motiffit.pile import out_of_date, pile_rows, size_pile, write_overview
from motiffit.renamed import follow_renamed
from motiffit.runners import ProcessRunner, Runner, available_cores
from motiffit.settings import Settings
from motiffit.show.pile_text import counts_line, eye_text, sizes_text
from motiffit.show.rows import Row
from motiffit.show.table import headline, references_line
from motiffit.watch import Signature, arrivals, signatures

__all__ = ["Output", "run_pile"]

Output = Literal["full", "brief", "json"]


def run_pile(
    folder: Path,
    settings: Settings,
    *,
    jobs: int | None,
    scheduler: str | None,
    separator: str | None,
    watch: bool,
    output: Output,
) -> None:
    """Size a pile and tell of it.

    Parameters
    ----------
    folder, settings
        Where the photos are and what is asked of all.
    jobs
        Processes; one per core when None.
    scheduler
        Address of a Dask scheduler, None to work on this machine.
    separator
        As for `motiffit.garments.garment_name`.
    watch
        Whether to go on as photos arrive.
    output : {'full', 'brief', 'json'}
        What goes to stdout.

    Raises
    ------
    typer.Exit
        With the status of a refused photo or of Ctrl-C.
    """
    if not watch:
        _stop_if_empty(folder)
    ledger = Ledger.open(folder)
    work = _Work(ledger, settings, separator, output)
    try:
        with ledger.running(), _runner(jobs, scheduler) as runner:
            ledger.keep_asked(settings)
            seen = signatures(ledger)
            work.heed_words()
            rows = work.size(runner, ledger.photos())
            work.report(rows)
            if watch:
                work.follow(runner, seen)
    except KeyboardInterrupt:
        typer.echo(work.stopped_text(), err=True)
        raise typer.Exit(ExitStatus.INTERRUPTED) from None
    if any(row.sizing.outcome == "refused" for row in rows):
        raise typer.Exit(ExitStatus.REFUSED)


@dataclass(slots=True)
class _Work:
    """One run over a pile, and what is told of it."""

    ledger: Ledger
    settings: Settings
    separator: str | None
    output: Output
    unknown: tuple[str, ...] = ()
    found: dict[str, tuple[int, int] | None] = field(default_factory=dict)

    def heed_words(self) -> None:
        """Note what people said of photos: those that got another name, and what the table says."""
        follow_renamed(self.ledger)
        self.unknown = heed_table(self.ledger)

    def size(self, runner: Runner, photos: Iterable[str]) -> list[Row]:
        """Size those photos that are out of date, and write page and table."""
        waiting = out_of_date(self.ledger, self.settings, photos)
        self.found = {photo: self.ledger.written(photo) for photo in waiting} | self.found
        with PileProgress(len(waiting), is_shown=self.output == "full") as progress:
            for sized in size_pile(self.ledger, self.settings, runner, waiting):
                progress.tell(sized)
        rows = pile_rows(self.ledger, separator=self.separator)
        write_overview(self.ledger, rows)
        return rows

    def follow(self, runner: Runner, seen: dict[str, Signature]) -> None:
        """Size photos as they arrive, each batch with its answers, until Ctrl-C.

        While the table cannot be read, what it said before stands.
        """
        typer.echo("Waiting for photos; Ctrl-C ends it.", err=True)
        for photos in arrivals(self.ledger, seen, Event()):
            try:
                self.heed_words()
            except FileError as error:
                tell_aside(str(error))
            rows = self.size(runner, photos)
            for row in rows:
                if row.photo in photos:
                    tell(f"{clean_name(row.photo)}: {headline(row.sizing)}", row.sizing)

    def report(self, rows: list[Row]) -> None:
        """Print what was asked for: all records, or how it came out and what needs an eye."""
        if self.output == "json":
            for entry in self.ledger.entries():
                _write_entry(entry)
            return
        typer.echo(counts_line(rows))
        if self.output == "brief":
            return
        width = screen_width()
        eye = eye_text(rows, clean=clean_name, width=width)
        places = "\n".join(
            f"{word}  {clean_name(str(self.ledger.home / name))}"
            for word, name in (("Page: ", "index.html"), ("Table:", "pile.csv"))
        )
        measured_by = references_line((row.sizing for row in rows), width=width)
        for block in (sizes_text(rows), measured_by, eye, *self._remarks(), places):
            if block:
                typer.echo(f"\n{block}")

    def stopped_text(self) -> str:
        """Say what is kept after Ctrl-C and how to go on.

        The records are asked: Ctrl-C may come after one was written and before it was told of.
        """
        finished = sum(self.ledger.written(name) != was for name, was in self.found.items())
        photos = "1 photo is" if finished == 1 else f"{finished} photos are"
        return (
            f"\nStopped. {photos} finished and kept; "
            "give the same command again to go on from there."
        )

    def _remarks(self) -> Iterator[str]:
        """Name the files that were not counted."""
        if not self.ledger.photos():
            yield "No photo lies in the folder itself; folders inside it are not looked through."
        for words, names in (
            ("No longer in the folder, and not counted", self.ledger.gone()),
            ("Links that lead out of the folder, not read", self.ledger.strays()),
            (f"In {TABLE_NAME}, but not in the folder", self.unknown),
        ):
            if names:
                yield f"{words}: {', '.join(clean_name(name) for name in names)}"


def _stop_if_empty(folder: Path) -> None:
    """Stop before anything is written where there is nothing to size and never was."""
    look = Ledger(folder)
    if folder.is_dir() and not look.home.exists() and not look.photos() and not look.strays():
        fail(
            f"no photos found in {folder}: JPEG, PNG, WebP, TIFF and HEIC files count; folders "
            "inside it are not looked through"
        )


def _write_entry(entry: Entry) -> None:
    """Print a photo as one line of JSON: its record, and what a person said of it."""
    text = dumps(entry.to_dict(), allow_nan=False, ensure_ascii=False)
    typer.echo(text.encode("utf-8", "backslashreplace"))


def _runner(jobs: int | None, scheduler: str | None) -> ClusterRunner | ProcessRunner:
    """Return who does the work."""
    if scheduler:
        return ClusterRunner(scheduler)
    return ProcessRunner(jobs or available_cores())

"""Starting and stopping the page's server."""

import asyncio
import io
import socket
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import segno
import uvicorn

from motiffit.errors import UsageError
from motiffit.ledger import Ledger
from motiffit.review.asked import Asked
from motiffit.review.desk import Desk
from motiffit.review.guard import Gate, Guard
from motiffit.review.pictures import Pictures
from motiffit.review.quilt_pages import QuiltPages
from motiffit.review.quilting import Quilting
from motiffit.review.server import Pages, make_app
from motiffit.review.size_choice import SizeSets
from motiffit.review.table import Table
from motiffit.review.tidings import Tidings
from motiffit.review.workshop import Workshop
from motiffit.settings import Settings

__all__ = [
    "USUAL_PORT",
    "Links",
    "Review",
    "Started",
    "assemble",
    "serve_review",
]

USUAL_PORT = 8479
"""Of no known service; the next free one is taken when it is in use."""

_PORTS_TRIED = 20
_LOOPBACK = "127.0.0.1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Started:
    """A page that is ready: its link on this computer, and over the network (with a QR code)."""

    link: str
    phone_link: str | None
    phone_code: str


def serve_review(
    ledger: Ledger,
    settings: Settings,
    *,
    port: int | None,
    lan: bool,
    hands: int,
    ready: Callable[[Started], None],
) -> None:
    """Serve the page until interrupted.

    Parameters
    ----------
    ledger
        The pile.
    settings
        What is asked of all photos.
    port
        Port to listen at; None for the usual one or the next that is free.
    lan
        Whether phones on the same network may reach it with their own link.
    hands
        Processes that decode and measure photos.
    ready
        Called once with the links.

    Raises
    ------
    UsageError
        If the port is taken, or this computer is on no network.
    """
    addresses = [_LOOPBACK, *([_network_address()] if lan else [])]
    sockets = _listen(addresses, port)
    number = sockets[0].getsockname()[1]
    workshop = Workshop(hands)
    links = Links(gate=Gate(), addresses=tuple(f"{address}:{number}" for address in addresses))
    review = assemble(ledger, settings, workshop, links)
    review.tidings.catch_up()
    server = uvicorn.Server(
        uvicorn.Config(
            review.app,
            log_config=None,
            access_log=False,  # addresses hold words that let browsers in
            server_header=False,
            proxy_headers=False,
            ws="none",
            timeout_graceful_shutdown=2,
        )
    )
    ready(links.at_start())
    try:
        asyncio.run(server.serve(sockets=sockets))
    finally:
        workshop.close()
        review.tidings.write_overview()


@dataclass(frozen=True, slots=True, kw_only=True)
class Review:
    """The page, put together: the application, and what it knows of the pile."""

    app: Guard
    tidings: Tidings


def assemble(ledger: Ledger, settings: Settings, workshop: Workshop, links: "Links") -> Review:
    """Put the page of a pile together.

    Parameters
    ----------
    ledger, settings
        The pile and what is asked of all photos.
    workshop
        Where pictures are decoded.
    links
        The addresses at which it will be served.
    """
    number = links.addresses[0].rpartition(":")[2]
    asked, pictures = Asked(settings), Pictures(ledger, workshop)
    tidings = Tidings(ledger, asked, workshop)
    pages = Pages(
        ledger=ledger,
        desk=Desk(ledger, asked, Table(ledger, asked, workshop), pictures),
        tidings=tidings,
        workshop=workshop,
        gate=links.gate,
        cookie_name=f"motiffit_{number}",
        is_shared=links.is_shared,
        new_link=links.for_another,
    )
    quilt = QuiltPages(
        ledger=ledger,
        quilting=Quilting(ledger, tidings, settings.units, workshop),
        sizes=SizeSets(ledger, asked, tidings, pictures),
    )
    guard = Guard(
        make_app(pages, quilt.routes()),
        links.gate,
        hosts=(*links.addresses, f"localhost:{number}"),
        cookie_name=pages.cookie_name,
        open_paths=("/enter/", "/static/"),
    )
    return Review(app=guard, tidings=tidings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Links:
    """Makes links; ``addresses`` are hosts with ports, this computer's own first."""

    gate: Gate
    addresses: tuple[str, ...]

    @property
    def is_shared(self) -> bool:
        """Whether the page is reached from the network."""
        return len(self.addresses) > 1

    def at_start(self) -> Started:
        """Return the links that are printed."""
        phone = self._link(self.addresses[-1], "/phone") if self.is_shared else None
        return Started(
            link=self._link(self.addresses[0], "/"),
            phone_link=phone,
            phone_code="" if phone is None else _code_in_text(phone),
        )

    def for_another(self) -> Mapping[str, Any]:
        """Return a link for another browser, as the page shows it."""
        link = self._link(self.addresses[-1], "/phone" if self.is_shared else "/")
        code = segno.make(link, micro=False)
        rows = ["".join("1" if dark else "0" for dark in row) for row in code.matrix]
        return {"link": link, "is_far": self.is_shared, "code": rows}

    def _link(self, address: str, page: str) -> str:
        """Return a link that lets one browser in, once."""
        return f"http://{address}/enter/{self.gate.new_link(page)}"


def _code_in_text(link: str) -> str:
    """Return a QR code for a terminal, two rows to a line."""
    text = io.StringIO()
    segno.make(link, micro=False).terminal(text, compact=True, border=4)  # as ISO/IEC 18004 asks
    return text.getvalue()


def _listen(addresses: list[str], port: int | None) -> list[socket.socket]:
    """Listen at one port of every address."""
    tried = [port] if port is not None else range(USUAL_PORT, USUAL_PORT + _PORTS_TRIED)
    for number in tried:
        sockets: list[socket.socket] = []
        try:
            for address in addresses:
                sockets.append(_listen_at(address, number))
                number = sockets[0].getsockname()[1]  # port 0 stands for any free one
            return sockets
        except OSError:
            for open_one in sockets:
                open_one.close()
    if port is not None:
        raise UsageError(f"port {port} is taken, or may not be used: choose another, such as 8500")
    raise UsageError(f"ports {USUAL_PORT} to {tried[-1]} are taken: choose one with --port")


def _listen_at(address: str, port: int) -> socket.socket:
    """Listen at one address."""
    # told that it is TCP, or asyncio leaves answers waiting 40 ms for more to send (Nagle)
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    try:
        if sys.platform != "win32":  # there it would share the port with another program
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((address, port))
        listener.listen(128)
    except OSError:
        listener.close()
        raise
    return listener


def _network_address() -> str:
    """Return this computer's address on its own network.

    Raises
    ------
    UsageError
        If it is on none.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # sends nothing: it only asks which way a packet would leave (RFC 5737: no such host)
            probe.connect(("192.0.2.1", 9))
            address = str(probe.getsockname()[0])
        except OSError:
            address = _LOOPBACK
    if address.startswith("127."):
        raise UsageError("this computer is on no network: connect it, or leave --lan away")
    return address

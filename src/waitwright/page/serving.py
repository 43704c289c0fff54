"""Serving the page: where it listens, what the terminal shows, and a clean end."""

from __future__ import annotations

import socket
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from types import FrameType
from typing import TYPE_CHECKING

from waitwright.errors import UsageError
from waitwright.page.desk import Desk
from waitwright.page.door import Door, new_key

if TYPE_CHECKING:
    import uvicorn

LOOPBACK = "127.0.0.1"
USUAL_PORT = 8386
_TRIED = 10
"""Ports that are tried from the usual one on, where none was asked for."""

_MOST_CONNECTIONS = 64


@dataclass(frozen=True, slots=True)
class Place:
    """Where the page is: a socket that listens already, and its address."""

    listener: socket.socket
    address: str
    port: int

    @property
    def url(self) -> str:
        """The page's address."""
        return f"http://{self.address}:{self.port}/"

    def with_key(self, key: str | None) -> str:
        """The page's address for a device that has not been here."""
        return self.url if key is None else f"{self.url}?key={key}"

    @property
    def hosts(self) -> frozenset[str]:
        """What a request may be addressed to."""
        names = {self.address}
        if self.address == LOOPBACK:
            names.add("localhost")
        return frozenset(f"{name}:{self.port}" for name in names)


def open_place(port: int | None, *, lan: bool) -> Place:
    """A place to listen at: on this machine only, or at its address on the network.

    Args:
        port: The port; None for the usual one, or the next that is free.

    Raises:
        UsageError: if the port is taken or there is no network.
    """
    address = lan_address() if lan else LOOPBACK
    wanted = [port] if port is not None else [*range(USUAL_PORT, USUAL_PORT + _TRIED), 0]
    for one in wanted:
        # Named as TCP in full: only then does asyncio send small answers at once.
        listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if sys.platform != "win32":  # there it would let two programs share one port
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((address, one))
            listener.listen()  # or another bench could take the same port until this one is up
        except OSError as error:
            listener.close()
            reason = error.strerror or str(error)
        else:
            return Place(listener, address, listener.getsockname()[1])
    raise UsageError(f"--port {wanted[-1]}: cannot listen at {address}: {reason}; give another port")


def lan_address() -> str:
    """This machine's address on its network.

    Raises:
        UsageError: if there is no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: the system only says which way it would go.  The address is one that the
            # standards keep for examples.
            probe.connect(("192.0.2.1", 9))
            address: str = probe.getsockname()[0]
        except OSError:
            address = ""
    if not address or address.startswith("127."):
        raise UsageError("--lan: this machine has no address on a network; connect it, or leave out --lan")
    return address


def door_for(place: Place, *, lan: bool, tell: Callable[[str], None]) -> Door:
    """An open door on the own machine; on the network one with a key.

    Args:
        tell: Called with the address for the next device, each time that one has come in.
    """
    return Door(new_key(), lambda key: tell(place.with_key(key))) if lan else Door()


def code(text: str) -> str:
    """*text* as a code to be read by a camera, in half blocks for a terminal."""
    import io

    import segno

    out = io.StringIO()
    segno.make(text, error="m").terminal(out, compact=True, border=2)
    return out.getvalue()


def serve(desk: Desk, door: Door, place: Place) -> None:
    """Serve until interrupted."""
    with suppress(KeyboardInterrupt):  # the usual way to end it
        server_for(desk, door, place).run(sockets=[place.listener])


def server_for(desk: Desk, door: Door, place: Place) -> uvicorn.Server:
    """The server, ready to run."""
    import uvicorn

    from waitwright.page.app import make_app

    class Server(uvicorn.Server):
        """Lets pages go that listen for news: else it would wait for them to leave by themselves."""

        def handle_exit(self, sig: int, frame: FrameType | None) -> None:
            desk.close()
            super().handle_exit(sig, frame)

    app = make_app(desk, door, place.hosts, f"bench-{place.port}")
    config = uvicorn.Config(
        app,
        lifespan="on",
        ws="none",
        proxy_headers=False,
        server_header=False,
        access_log=False,
        log_level="critical",  # the guard tells what goes wrong, in one line
        limit_concurrency=_MOST_CONNECTIONS,
        timeout_graceful_shutdown=2,
        h11_max_incomplete_event_size=64 * 1024,
    )
    return Server(config)

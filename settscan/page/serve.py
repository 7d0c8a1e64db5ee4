"""Runs the page on this computer, prints its link, and with --share lets the room in."""

from __future__ import annotations

import socket
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from settscan.errors import BadInput
from settscan.page.guard import Pass, new_token

LOOPBACK = "127.0.0.1"
SHARED = (
    "Shared: whoever is in this network and has the link can see and change the projects in this"
    " folder until you stop the page with Ctrl+C. What passes between is not encrypted, so share"
    " only in a network that you trust, at home or in the guild's workshop."
)


@dataclass(frozen=True, slots=True)
class Door:
    """Where the page listens, and the links to it.

    Attributes:
        sockets: listening, one for each address.
        entry: who is let in.
        link: for this computer.
        share: for other devices; "" if they are not let in.
    """

    sockets: tuple[socket.socket, ...]
    entry: Pass
    link: str
    share: str


def open_door(path: str, port: int = 0, share: bool = False) -> Door:
    """Begin to listen.

    Args:
        path: of the first page, as "/p/blanket".
        port: 0 for any that is free.
        share: whether to listen in the local network too.

    Raises:
        BadInput: if the port is taken, or there is no network to share in.
    """
    token = new_token()
    here = _listening(LOOPBACK, port)
    port = here.getsockname()[1]
    hosts = [f"{LOOPBACK}:{port}", f"localhost:{port}"]
    sockets, shared = [here], ""
    if share:
        address = network_address()
        if address is None:
            here.close()
            raise BadInput(
                "This computer is in no network that could be shared.",
                "Join the network first, or leave out --share.",
            )
        if address != LOOPBACK:
            sockets.append(_listening(address, port))
        hosts.append(f"{address}:{port}")
        shared = f"http://{address}:{port}{path}?token={token}"
    link = f"http://{LOOPBACK}:{port}{path}?token={token}"
    return Door(tuple(sockets), Pass(token, tuple(hosts)), link, shared)


def network_address() -> str | None:
    """The address of this computer in its network; nothing is sent to find it."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address that nobody has (RFC 5737)
            address = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if address.startswith("0.") else address


def run(folder: Path, door: Door, opened: Callable[[], None] | None = None) -> None:
    """Serve until interrupted.

    Args:
        folder: where the projects are.
        door: see `open_door`.
        opened: called when the page can be visited.
    """
    import uvicorn

    from settscan.page.app import create_app
    from settscan.page.room import Room

    room = Room(folder, door.share)

    class Server(uvicorn.Server):
        async def startup(self, sockets: list[socket.socket] | None = None) -> None:
            await super().startup(sockets)
            if opened is not None:
                opened()

        async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
            room.closing = True
            room.reader.stop()
            await super().shutdown(sockets)

    config = uvicorn.Config(
        create_app(room, door.entry),
        log_level="warning",
        lifespan="off",
        server_header=False,
        date_header=False,
        ws="none",
        timeout_graceful_shutdown=3,
    )
    try:
        Server(config).run(sockets=list(door.sockets))
    except KeyboardInterrupt:
        pass
    finally:
        for one in door.sockets:
            one.close()


def _listening(address: str, port: int) -> socket.socket:
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    # An answer goes out at once. Otherwise the last part of it waits for the other side to confirm
    # the parts before, about 40 ms; asyncio sees to this only for sockets that it made itself.
    listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    try:
        listener.bind((address, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise BadInput(
            f"Port {port} cannot be used: {(error.strerror or 'it is taken').lower()}.",
            "Choose another one with --port, or leave it out.",
        ) from error
    return listener

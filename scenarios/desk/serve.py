"""Start the desk: a server on this machine only, and the person's browser."""

from __future__ import annotations

import html
import socket
import webbrowser
from collections.abc import Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path

import uvicorn

from scenarios.desk.app import Desk
from scenarios.desk.safety import Door
from scenarios.desk.screens import Screen
from scenarios.desk.workplace import Workplace, written

LOOPBACK, OPENER = "127.0.0.1", "open the desk.html"
CLOSING = 3
"""Seconds that open requests have when the desk is closed."""


def serve(folder: Path, screens: Sequence[Screen], *, book: str | None = None, browser: bool = True) -> None:
    """Open the desk on a folder, until it is closed by its button or Ctrl-C.

    ``book``: name of the scenario in it to put on the desk.
    """
    workplace = Workplace(folder)
    if book is not None:
        workplace.remember(book=book)
    opener = workplace.folder / OPENER
    with socket.create_server((LOOPBACK, 0)) as listening:
        door = Door(listening.getsockname()[1])
        desk = Desk(workplace, screens, door)
        config = uvicorn.Config(
            desk.app(),
            log_level="warning",
            access_log=False,
            server_header=False,
            proxy_headers=False,
            timeout_graceful_shutdown=CLOSING,
            lifespan="off",
            ws="none",
        )
        print(f"The desk shows the folder {workplace.folder}.", flush=True)
        print(f"Open this address in a browser on this machine: {door.address()}", flush=True)
        print("Press Ctrl-C here, or the button at the foot of the desk, to close it.", flush=True)
        if browser:
            written(opener, _opener(door.address()).encode())
            webbrowser.open(opener.as_uri())
        desk.watch.start()
        try:
            server = uvicorn.Server(config)
            desk.leave = partial(setattr, server, "should_exit", True)
            with suppress(KeyboardInterrupt):  # a way to close the desk, not a run that fails
                server.run(sockets=[listening])
        finally:
            desk.close()
            if browser:
                opener.unlink(missing_ok=True)
        print("The desk is closed. What was done is kept.", flush=True)


def _opener(address: str) -> str:
    """A page that leads to the address.

    A browser is started by a command that other people on the machine can list; so the address with its
    secret is not in it. The page stands in the desk's own folder, where only its owner may read it, since
    some systems show a browser no folder for temporary files.
    """
    place = html.escape(address, quote=True)
    return (
        f'<!DOCTYPE html><meta charset="utf-8"><title>The desk</title>'
        f'<meta http-equiv="refresh" content="0;url={place}"><p><a href="{place}">Open the desk</a></p>'
    )

"""Start the desk: a server on this machine only, and the person's browser."""

from __future__ import annotations

import html
import socket
import webbrowser
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

import uvicorn

from scenarios.desk.app import Desk
from scenarios.desk.safety import Door
from scenarios.desk.screens import Screen
from scenarios.desk.workplace import Workplace

LOOPBACK = "127.0.0.1"
CLOSING = 3
"""Seconds that open requests have when the desk is closed."""


def serve(folder: Path, screens: Sequence[Screen], *, book: str | None = None, browser: bool = True) -> None:
    """Open the desk on a folder, until it is stopped by Ctrl-C.

    ``book``: name of the scenario in it to put on the desk.
    """
    workplace = Workplace(folder)
    if book is not None:
        workplace.remember(book=book)
    with socket.create_server((LOOPBACK, 0)) as listening, TemporaryDirectory() as private:
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
        print("Press Ctrl-C here to close the desk.", flush=True)
        if browser:
            webbrowser.open(_opener(Path(private), door.address()).as_uri())
        desk.watch.start()
        try:
            with suppress(KeyboardInterrupt):  # the way to close the desk, not a run that fails
                uvicorn.Server(config).run(sockets=[listening])
        finally:
            desk.close()
        print("The desk is closed. What was done is kept.", flush=True)


def _opener(private: Path, address: str) -> Path:
    """A page in a folder that others cannot read, which leads to the address.

    A browser is started by a command that other people on the machine can list; so the address with its
    secret is not in it.
    """
    page = private / "open the desk.html"
    place = html.escape(address, quote=True)
    page.write_text(
        f'<!DOCTYPE html><meta charset="utf-8"><title>The desk</title>'
        f'<meta http-equiv="refresh" content="0;url={place}"><p><a href="{place}">Open the desk</a></p>',
        encoding="utf-8",
    )
    return page

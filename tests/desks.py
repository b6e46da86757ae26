"""A desk that runs for a test, and a browser without a window that talks to it."""

from __future__ import annotations

import json
import re
import socket
import threading
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPResponse
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import uvicorn

from scenarios.commands.command_line import VERBS
from scenarios.commands.desk_verb import screens
from scenarios.desk.app import Desk
from scenarios.desk.safety import Door
from scenarios.desk.workplace import Workplace

PATIENCE = 120.0
"""Seconds that a test waits at most for a run: far more than it takes."""


@dataclass
class Answer:
    """What the desk answered."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()

    def has(self, text: str) -> bool:
        """Whether the page shows a text, whatever its marks and line ends."""
        return " ".join(text.split()) in " ".join(re.sub(r"<[^>]*>", " ", self.text).split())


@dataclass
class Visitor:
    """A browser: it keeps the secret, and says where it comes from."""

    port: int
    cookie: str = ""
    headers: dict[str, str] = field(default_factory=dict)

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> Answer:
        """One request; ``headers`` replace those of a browser, blank ones leave them out."""
        host = f"127.0.0.1:{self.port}"
        told = {"Host": host, "Cookie": self.cookie, "Sec-Fetch-Site": "same-origin"}
        if method != "GET":
            told["Origin"] = f"http://{host}"
        told |= {name.replace("_", "-"): value for name, value in headers.items()}
        line = HTTPConnection("127.0.0.1", self.port, timeout=PATIENCE)
        line.putrequest(method, path, skip_host=True)
        for name, value in told.items():
            if value:
                line.putheader(name, value)
        if body is not None and "Content-Length" not in told:
            line.putheader("Content-Length", str(len(body)))
        line.endheaders(body)
        answer: HTTPResponse = line.getresponse()
        found = Answer(answer.status, dict(answer.getheaders()), answer.read())
        line.close()
        return found

    def get(self, path: str, **headers: str) -> Answer:
        return self.ask("GET", path, **headers)

    def post(self, path: str, values: Mapping[str, Any] | None = None, **headers: str) -> Answer:
        """Send a form."""
        body = urlencode(values or {}, doseq=True).encode()
        return self.ask("POST", path, body, **{"Content_Type": "application/x-www-form-urlencoded"} | headers)

    def drop(self, name: str, data: bytes, **headers: str) -> Answer:
        """Drop a file."""
        mark = "part-of-a-form"
        head = f'--{mark}\r\nContent-Disposition: form-data; name="file"; filename="{name}"\r\n\r\n'
        body = head.encode() + data + f"\r\n--{mark}--\r\n".encode()
        return self.ask(
            "POST", "/book", body, **{"Content_Type": f"multipart/form-data; boundary={mark}"} | headers
        )

    def answered(self, number: int) -> str:
        """Wait for a run; its state."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            state = str(json.loads(self.get(f"/answers/{number}/state").text)["state"])
            if state != "running":
                return state
            time.sleep(0.1)
        raise TimeoutError


@contextmanager
def desk(folder: Path) -> Iterator[tuple[Desk, Visitor]]:
    """A desk over a folder, and a browser that it has let in."""
    with socket.create_server(("127.0.0.1", 0)) as listening:
        port = listening.getsockname()[1]
        made = Desk(Workplace(folder), screens(VERBS), Door(port))
        server = uvicorn.Server(uvicorn.Config(made.app(), log_level="error", lifespan="off", ws="none"))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.01)
        made.watch.start()
        visitor = Visitor(port)
        opened = visitor.get(made.door.address().partition(str(port))[2])
        visitor.cookie = opened.headers["set-cookie"].partition(";")[0]
        try:
            yield made, visitor
        finally:
            made.close()
            server.should_exit = True
            thread.join()

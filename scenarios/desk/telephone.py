"""Answers while the customer is on the telephone: questions to a process that keeps the plan ready."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import threading
from dataclasses import dataclass, field
from typing import Any

from scenarios.desk.reading import Stamp
from scenarios.desk.workplace import Workplace

KEPT = 20
"""Answers kept."""


@dataclass(slots=True)
class Call:
    """One question: the cells of the order by column, and what was answered by stage."""

    number: int
    order: dict[str, str]
    profit_margin: str
    answers: dict[str, dict[str, Any]] = field(default_factory=dict)
    ended: bool = False


class Telephone:
    """The process that knows the scenario on the desk, started anew when the file is saved."""

    def __init__(self, workplace: Workplace) -> None:
        self.workplace = workplace
        self.calls: dict[int, Call] = {}
        self.stage = ""
        self._process: subprocess.Popen[str] | None = None
        self._about: tuple[str, Stamp] | None = None
        self._lock = threading.RLock()

    def ready(self, book: str) -> None:
        """Have the process know the scenario as it is now."""
        with self._lock:
            about = book, self.workplace.stamp(book)
            if self._process is not None and self._process.poll() is None and about == self._about:
                return
            self.hang_up()
            season = self.workplace.progress(book)
            self._process = process = subprocess.Popen(
                [
                    sys.executable,
                    "-P",
                    "-m",
                    "scenarios.desk.warm",
                    str(self.workplace.folder / book),
                    str(season) if season.is_file() else "",
                ],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                text=True,
                encoding="utf-8",
                start_new_session=True,
                env=os.environ | {"PYTHONUTF8": "1"},
            )
            self._about, self.stage = about, "start"
        threading.Thread(target=self._listen, args=(process,), daemon=True).start()

    def ask(self, book: str, order: dict[str, str], profit_margin: str) -> Call:
        """Ask for an order."""
        self.ready(book)
        with self._lock:
            call = Call(max(self.calls, default=0) + 1, order, profit_margin)
            self.calls[call.number] = call
            for number in sorted(self.calls)[:-KEPT]:
                del self.calls[number]
            assert self._process is not None
            assert self._process.stdin is not None
            told = {"number": call.number, "order": order, "profit_margin": profit_margin}
            self._process.stdin.write(json.dumps(told) + "\n")
            self._process.stdin.flush()
            return call

    def hang_up(self) -> None:
        """End the process."""
        with self._lock:
            if self._process is not None and self._process.poll() is None:
                self._process.kill()
                self._process.wait()
            self._process, self._about, self.stage = None, None, ""

    def _listen(self, process: subprocess.Popen[str]) -> None:
        assert process.stdout is not None
        for line in process.stdout:
            told = json.loads(line)
            with self._lock:
                if process is not self._process:
                    return
                call = self.calls.get(told.pop("number", 0))
                if call is None:
                    self.stage = told["stage"]
                else:
                    call.answers[told["stage"]] = told
                    call.ended = told["stage"] in ("weeks", "refused")
        with self._lock:
            for call in self.calls.values():
                call.ended = True

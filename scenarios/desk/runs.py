"""The answers: each is worked out by a process of its own, which outlives the page and may be stopped.

An answer is a folder: ``run.json`` says what was asked and how it went, ``told.txt`` and ``progress.txt``
are what the command printed, ``files`` is what it wrote. The folder tells all, so nothing is lost when the
desk is closed.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from pathlib import Path

import psutil

from scenarios.desk.workplace import ANSWERS, Workplace, written

RUN, TOLD, PROGRESS, FILES = "run.json", "told.txt", "progress.txt", "files"
MOST_AT_ONCE = 4
PATIENCE = 5.0
"""Seconds that a run has to stop by itself before it is ended."""

STATES = {0: "done", 2: "refused", 3: "done", 130: "stopped"}
"""State by exit code; any other code is ``failed``."""

LONGEST_TEXT = 200_000
"""Characters shown of what a command printed."""


class TooMany(Exception):
    """More runs than this machine should do at once."""


@dataclass(frozen=True, slots=True)
class Run:
    """One question asked: ``state`` is running, done, refused, failed or stopped."""

    number: int
    verb: str
    book: str
    asked: tuple[str, ...]
    started: str
    hashed: str
    page: str
    state: str = "running"
    code: int | None = None
    seconds: float | None = None
    process: int | None = None
    by_itself: bool = False
    """Whether the desk asked it because the file was saved."""


class Runs:
    """All answers of a workplace."""

    def __init__(self, workplace: Workplace) -> None:
        self.workplace = workplace
        self._open: dict[int, subprocess.Popen[bytes]] = {}
        self._stopping: set[int] = set()
        self._lock = threading.RLock()

    def folder(self, run: Run) -> Path:
        """The folder of an answer."""
        return self.workplace.folder / ANSWERS / f"{run.number:04d} {run.verb}"

    def all(self) -> list[Run]:
        """All runs, the newest first."""
        found = []
        for path in (self.workplace.folder / ANSWERS).glob(f"*/{RUN}"):
            with suppress(OSError, ValueError, TypeError, KeyError):
                told = json.loads(path.read_text(encoding="utf-8"))
                found.append(Run(**{**told, "asked": tuple(told["asked"])}))
        return sorted(map(self._settled, found), key=lambda run: -run.number)

    def _settled(self, run: Run) -> Run:
        """The run as it is now: one that an earlier desk began may have ended since, with files or not."""
        if run.state != "running" or run.number in self._open or self._process(run) is not None:
            return run
        ended = replace(run, state="done" if self.files(run) else "stopped")
        self._write(ended)
        return ended

    def get(self, number: int) -> Run | None:
        """The run of that number."""
        return next((run for run in self.all() if run.number == number), None)

    def start(
        self, verb: str, options: Sequence[str], placed: Sequence[str], page: str, *, by_itself: bool = False
    ) -> Run:
        """Ask a question about the book on the desk; raises ``TooMany``."""
        book = self.workplace.book
        if book is None:
            raise ValueError("there is no scenario on the desk")
        with self._lock:
            before = self.all()
            if sum(run.state == "running" for run in before) >= MOST_AT_ONCE:
                raise TooMany
            number = self._last_number() + 1
            now, hashed = datetime.now().isoformat(" ", "seconds"), self.workplace.hashed(book)
            run = Run(number, verb, book, (*options, *placed), now, hashed, page, by_itself=by_itself)
            folder = self.folder(run)
            folder.mkdir(parents=True)
            season = self.workplace.progress(book)
            told = [f"--progress={season}"] if season.is_file() else []
            command = [sys.executable, "-P", "-m", "scenarios", verb, *told, *options, self._output(run)]
            command += ["--", str(self.workplace.folder / book), *placed]
            with (folder / TOLD).open("wb") as out, (folder / PROGRESS).open("wb") as err:
                process = subprocess.Popen(
                    command,
                    cwd=self.workplace.folder,
                    stdin=subprocess.DEVNULL,
                    stdout=out,
                    stderr=err,
                    start_new_session=True,
                    env=os.environ | {"COLUMNS": "100", "PYTHONUTF8": "1"},
                )
            run = replace(run, process=process.pid)
            self._open[number] = process
            self._write(run)
        threading.Thread(target=self._wait, args=(run, process), daemon=True).start()
        return run

    def stop(self, run: Run) -> None:
        """Stop a run; it then writes nothing."""
        if run.state != "running":
            return
        self._stopping.add(run.number)
        found = self._process(run)
        if found is not None:
            workers = _interrupted(found)
            process = self._open.get(run.number, found)
            try:
                process.wait(PATIENCE)
            except (subprocess.TimeoutExpired, psutil.TimeoutExpired):
                for one in (*workers, process):
                    with suppress(psutil.NoSuchProcess):
                        one.kill()
                process.wait()
        self._ended(run, 130)

    def stop_all(self) -> None:
        """Stop all runs of this desk."""
        for number in list(self._open):
            run = self.get(number)
            if run is not None:
                self.stop(run)

    def told(self, run: Run) -> list[str]:
        """Lines that the command printed as its answer, or as the reason why there is none."""
        name = TOLD if run.state == "done" else PROGRESS
        return _lines(self.folder(run) / name)

    def phase(self, run: Run) -> str:
        """What the run does now."""
        lines = _lines(self.folder(run) / PROGRESS)
        return lines[-1].removesuffix(" ...") if lines else "start"

    def elapsed(self, run: Run) -> float:
        """Seconds since the start, or those that it took."""
        if run.seconds is not None:
            return run.seconds
        return max(0.0, time.time() - datetime.fromisoformat(run.started).timestamp())

    def left(self, run: Run) -> float | None:
        """Seconds left, as the same question took them last time; None where it was never asked."""
        same = [other for other in self.all() if (other.verb, other.book) == (run.verb, run.book)]
        took = next((other.seconds for other in same if other.state == "done" and other.seconds), None)
        return None if took is None else max(0.0, took - self.elapsed(run))

    def files(self, run: Run) -> list[str]:
        """Files of the answer that a person may take away, as paths below its folder with slashes."""
        place = self.folder(run) / FILES
        found = []
        for folder, names, files in os.walk(place):
            names[:] = sorted(name for name in names if not name.startswith("."))
            inside = Path(folder).relative_to(place)
            found += [(inside / name).as_posix() for name in sorted(files) if not name.startswith(".")]
        return found

    def file(self, run: Run, name: str) -> Path | None:
        """A file of the answer; None where it has none of that name."""
        return self.folder(run) / FILES / name if name in self.files(run) else None

    def _last_number(self) -> int:
        """The highest number of an answer's folder, 0 without any; a run killed early has left it empty."""
        names = (path.name.partition(" ")[0] for path in (self.workplace.folder / ANSWERS).iterdir())
        return max((int(name) for name in names if name.isdecimal()), default=0)

    def _output(self, run: Run) -> str:
        return f"--output={self.folder(run) / FILES}"

    def _process(self, run: Run) -> psutil.Process | None:
        """The process of a run; None where it has ended, though another may have its number by now."""
        with suppress(psutil.Error):
            if (
                run.process is not None
                and self._output(run) in (found := psutil.Process(run.process)).cmdline()
            ):
                return found
        return None

    def _wait(self, run: Run, process: subprocess.Popen[bytes]) -> None:
        self._ended(run, process.wait())

    def _ended(self, run: Run, code: int) -> None:
        with self._lock:
            now = self.get(run.number)
            if now is not None and now.state == "running":
                state = STATES.get(code, "stopped" if code < 0 else "failed")
                if run.number in self._stopping and state != "done":
                    state = "stopped"
                self._write(replace(now, state=state, code=code, seconds=round(self.elapsed(now), 1)))
            self._open.pop(run.number, None)

    def _write(self, run: Run) -> None:
        text = json.dumps(asdict(run), ensure_ascii=False, indent=1)
        written(self.folder(run) / RUN, text.encode())


def _interrupted(process: psutil.Process) -> list[psutil.Process]:
    """Ask a process to stop, as Ctrl-C does; its workers. Windows has no way to ask, and ends all at once."""
    workers: list[psutil.Process] = []
    with suppress(psutil.NoSuchProcess, OSError):
        workers = process.children(recursive=True)
        if sys.platform == "win32":
            for one in (*workers, process):
                with suppress(psutil.NoSuchProcess):
                    one.kill()
        else:
            os.killpg(process.pid, signal.SIGINT)
    return workers


def _lines(path: Path) -> list[str]:
    with suppress(OSError):
        text = path.read_text(encoding="utf-8", errors="replace")[-LONGEST_TEXT:]
        return [line for line in text.splitlines() if line.strip()]
    return []

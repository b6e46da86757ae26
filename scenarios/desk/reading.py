"""The scenario on the desk as it was last saved: what it holds, or every fault with its cell."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from scenarios.desk.workplace import Workplace

if TYPE_CHECKING:
    from model.scenario.entities import Scenario
    from scenarios.cells.faults import Fault

EVERY, SETTLED = 0.4, 1.2
"""Seconds between two looks at a file, and for which it must not change before it is read: programs save in
steps."""

Stamp = tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, slots=True)
class Reading:
    """A book as read: its faults, or what it holds in words and the lists from which a person picks."""

    book: str
    stamp: Stamp
    faults: tuple[Fault, ...] = ()
    refused: str = ""
    """Why it cannot be read at all."""
    held: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    offers: dict[str, tuple[str, ...]] = field(default_factory=dict)
    scenario: Scenario | None = None

    @property
    def sound(self) -> bool:
        """Whether it can be planned."""
        return self.scenario is not None


def read(workplace: Workplace, book: str) -> Reading:
    """Read a book with its season, and check it."""
    from reports.book.retold import retelling
    from reports.book.writing import written_as
    from scenarios.cells.faults import BadInput, Refused
    from scenarios.files.read_scenario import Overrides
    from scenarios.rules.costly import left_from
    from scenarios.rules.remarks import in_words, remarks
    from scenarios.rules.what_it_holds import what_it_holds
    from scenarios.variants.by_name import read
    from scenarios.variants.variants import read_case

    stamp, season = workplace.stamp(book), workplace.progress(book)
    try:
        case = read_case(workplace.folder / book, Overrides(None, season if season.is_file() else None))
    except BadInput as bad:
        return Reading(book, stamp, faults=tuple(bad.faults))
    except (Refused, OSError) as error:
        return Reading(book, stamp, refused=str(error))
    scenario = case.scenario
    told = (*case.as_read, *remarks(scenario), *left_from(read("hollow_ash"), scenario))
    with written_as(scenario.nursery):
        held = tuple(what_it_holds(scenario))
        retell = retelling(scenario)
        shown = tuple(retell(in_words(remark)) for remark in told)
    return Reading(
        book,
        stamp,
        held=held,
        remarks=shown,
        offers={
            "products": tuple(product.product for product in scenario.ordered_products),
            "customers": tuple(dict.fromkeys(order.customer for order in scenario.orders)),
            "modules": tuple(module.module for module in scenario.zone_modules),
        },
        scenario=scenario,
    )


class Watch:
    """Reads the book on the desk again whenever it is saved."""

    def __init__(self, workplace: Workplace, saved: Callable[[Reading], None]) -> None:
        self.workplace = workplace
        self.saved = saved
        """Called with each new reading of a book that was read before."""
        self._lock = threading.Lock()
        self._reading: Reading | None = None
        self._stop = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def start(self) -> None:
        """Begin to watch."""
        self._thread.start()

    def stop(self) -> None:
        """Watch no longer."""
        self._stop.set()

    def reading(self) -> Reading | None:
        """The book on the desk as it is now; None where there is none."""
        book = self.workplace.book
        if book is None:
            return None
        with self._lock:
            last = self._reading
            if last is None or last.book != book or last.stamp != self.workplace.stamp(book):
                last = self._reading = read(self.workplace, book)
            return last

    def _look(self) -> None:
        book, known = self.workplace.book, None
        since = 0.0
        while not self._stop.wait(EVERY):
            with suppress(OSError):
                now = self.workplace.book
                if now is None:
                    continue
                stamp = self.workplace.stamp(now)
                if now != book or known is None:
                    book, known, since = now, stamp, 0.0
                elif stamp != known:
                    known, since = stamp, time.monotonic()
                elif since and time.monotonic() - since >= SETTLED:
                    since = 0.0
                    reading = self.reading()
                    if reading is not None:
                        self.saved(reading)


def folder_of(path: Path) -> Path:
    """The folder of a scenario that was named by its file."""
    return path if path.is_dir() and not (path / "nursery.csv").is_file() else path.parent

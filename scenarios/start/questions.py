"""The dozen questions of the start, and their answers read from texts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from model.currencies import CODES
from reports.book.writing import NoLocale, writing_of, written_by
from scenarios.cells.faults import BadInput, Fault
from scenarios.cells.typed import number_typed

if TYPE_CHECKING:
    from scenarios.start.first_scenario import Answers

MOST = 1_000_000.0


@dataclass(frozen=True, slots=True)
class Question:
    """One question. ``kind``: text, currency, locale, whole or number.

    Without ``default`` it must be answered.
    """

    name: str
    words: str
    kind: str
    default: str | None = None
    blank: bool = False
    """Whether it may be left blank."""

    @property
    def flag(self) -> str:
        """Its option on the command line."""
        return f"--{self.name.replace('_', '-')}"


QUESTIONS: tuple[Question, ...] = (
    Question("name", "Name of the nursery and the season", "text"),
    Question("currency", "Currency, as an ISO 4217 code such as USD or EUR", "currency"),
    Question(
        "locale",
        "Language and country whose way of writing days and amounts you use, such as en-US or de-DE; blank: "
        "2027-03-31 and 1,234.50",
        "locale",
        "",
        True,
    ),
    Question("germination_slots", "Trays that fit into the germination room", "number"),
    Question("bench_slots", "Trays that fit on the seedling bench", "number"),
    Question("healing_slots", "Trays that fit into the healing chamber", "number"),
    Question("finishing_slots", "Trays that fit into the finishing house", "number"),
    Question("grafters", "Hands that graft", "number"),
    Question("grafter_hours", "Hours a day of each", "number", "7"),
    Question("grafter_pay", "Pay of a grafter for an hour, with all employer's costs on top", "number"),
    Question("growers", "Hands that sow, water, move and pack", "number"),
    Question("grower_hours", "Hours a day of each of them", "number", "7.5"),
    Question("grower_pay", "Pay of one of them for an hour, with all employer's costs on top", "number"),
    Question("temporary", "Temporary grafters that you could hire at most", "whole", "0"),
    Question("temporary_pay", "Pay of a temporary grafter for an hour", "number", "0"),
    Question("scion_seed", "Price of 1,000 seeds of a scion variety", "number"),
    Question("rootstock_seed", "Price of 1,000 seeds of a rootstock variety", "number"),
    Question("overhead", "Overhead of the season: rent, insurance, office, repairs", "number", "0"),
    Question("seedling_cells", "Cells of the tray in which scions are raised", "whole", "128"),
    Question(
        "buy_in_price", "Price of a finished grafted plant elsewhere, if you would buy", "number", "", True
    ),
    Question("buy_in_days", "Days from ordering such plants to having them", "whole", "35"),
)
"""In the order in which they are asked."""


def read_answers(told: Mapping[str, str]) -> Answers:
    """The answers from texts by name; blanks take the defaults. Raises ``BadInput`` with every fault."""
    from scenarios.start.first_scenario import Answers

    faults: list[Fault] = []
    values: dict[str, Any] = {}
    with answered_in(told):
        for question in QUESTIONS:
            text = told.get(question.name, "").strip() or (question.default or "")
            try:
                values[question.name] = _value(question, text)
            except ValueError as wrong:
                faults.append(Fault("start", None, question.name, text, *wrong.args))
    if faults:
        raise BadInput(faults)
    return Answers(**values)


@contextmanager
def answered_in(told: Mapping[str, str]) -> Iterator[None]:
    """Read what is typed in the block as the locale among the answers writes it, where there is one."""
    try:
        how = writing_of(told.get("locale", "").strip() or None, told.get("currency", "").strip().upper())
    except NoLocale:
        how = writing_of(None, "")
    with written_by(how):
        yield


def _value(question: Question, text: str) -> Any:
    """The value of an answer; raises ``ValueError`` with what is wrong and the remedy."""
    if not text:
        if question.blank:
            return None
        raise ValueError("is missing", f"answer: {question.words}")
    if question.kind == "text":
        return text
    if question.kind == "currency":
        code = text.upper()
        if code not in CODES:
            raise ValueError("is not a currency in use", "write its ISO 4217 code, such as USD, EUR or JPY")
        return code
    if question.kind == "locale":
        writing_of(text, "")
        return text
    number = number_typed(text)
    if not 0 <= number <= MOST:
        raise ValueError("is out of range", f"write a number from 0 to {MOST:,.0f}")
    if question.kind == "whole":
        if not number.is_integer():
            raise ValueError("is not a whole number", "write a whole number")
        return int(number)
    return number

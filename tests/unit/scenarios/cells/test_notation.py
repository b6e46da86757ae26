"""Numbers and days of a column: read as written, or asked about with the right answer on offer."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from model.scenario.schema import Column, Type
from scenarios.cells.grid import COMMA, DATES, POINT, Grid, Told
from scenarios.cells.notation import Notation, notation_of
from scenarios.cells.parse import FAULTED, Unreadable
from scenarios.cells.typed import number_typed
from tests.depth import deep

DAY = Column("day", Type.DATE, "")
PRICE = Column("price", Type.NUMBER, "")
SHARE = Column("share", Type.SHARE, "")


def read(column: Column, *texts: str, separator: str = ";", told: Told | None = None) -> Notation:
    body = [(n, [text]) for n, text in enumerate(texts, 2)]
    grid = Grid("t", [(1, [column.name]), *body], False, 1, separator, told or Told())
    return notation_of(grid, [column], body)


def cells(column: Column, *texts: str, **more: str) -> list[object]:
    """The plain form of each text; '?' where the column is asked about, '!' where the cell cannot be read."""
    made = read(column, *texts, **more)
    found = [made.cells.get((n, 0)) for n in range(2, len(texts) + 2)]
    return ["?" if c is FAULTED else "!" if isinstance(c, Unreadable) else c for c in found]


WRITTEN: dict[str, tuple[Callable[[date], str], str]] = {
    "30.04.2027": (lambda d: f"{d:%d.%m.%Y}", DATES[0]),
    "30. 4. 2027": (lambda d: f"{d.day}. {d.month}. {d.year}", DATES[0]),
    "30.4.27": (lambda d: f"{d.day}.{d.month}.{d:%y}", DATES[0]),
    "30/04/2027": (lambda d: f"{d:%d/%m/%Y}", DATES[0]),
    "30/04/27": (lambda d: f"{d:%d/%m/%y}", DATES[0]),
    "30-4-2027": (lambda d: f"{d.day}-{d.month}-{d.year}", DATES[0]),
    "4/30/2027": (lambda d: f"{d.month}/{d.day}/{d.year}", DATES[1]),
    "04/30/27": (lambda d: f"{d:%m/%d/%y}", DATES[1]),
    "2027/4/30": (lambda d: f"{d.year}/{d.month}/{d.day}", DATES[2]),
    "2027. 04. 30.": (lambda d: f"{d:%Y. %m. %d.}", DATES[2]),
    "2027-04-30 00:00:00": (lambda d: f"{d} 00:00:00", DATES[2]),
    "27-04-30": (lambda d: f"{d:%y-%m-%d}", DATES[2]),
}


@pytest.mark.parametrize("form", WRITTEN)
@given(st.lists(st.dates(date(2001, 1, 1), date(2099, 12, 31)), min_size=1, max_size=6))
@settings(max_examples=deep(100))
def test_days_are_read_as_written_or_asked_about(form: str, days: list[date]) -> None:
    write, order = WRITTEN[form]
    texts = [write(day) for day in days]
    made = read(DAY, *texts)
    if made.faults:
        (fault,) = made.faults
        assert f"dates={order}" in fault.remedy
        assert str(days[fault.row - 2]) in fault.wrong  # type: ignore[operator]
        made = read(DAY, *texts, told=Told(dates=order))
    assert [made.cells[n, 0] for n in range(2, len(days) + 2)] == [day.isoformat() for day in days]


@given(st.lists(st.dates(date(2001, 1, 1), date(2099, 12, 31)), min_size=1, max_size=6))
@settings(max_examples=deep(200))
def test_a_column_is_asked_about_where_day_and_month_may_change_places(days: list[date]) -> None:
    made = read(DAY, *(f"{day:%d/%m/%Y}" for day in days))
    turns = all(day.day <= 12 for day in days) and any(day.day != day.month for day in days)
    assert bool(made.faults) is turns


def test_days_that_leave_no_doubt() -> None:
    assert cells(DAY, "01/02/2027", "13/02/2027") == ["2027-02-01", "2027-02-13"]
    assert cells(DAY, "01/02/2027", "02/13/2027") == ["2027-01-02", "2027-02-13"]
    assert cells(DAY, "01/02/2027", "2027-02-13") == ["?", "?"]
    assert cells(DAY, "02/02/2027", "03/03/2027") == ["2027-02-02", "2027-03-03"]
    assert cells(DAY, "13/01/2027", "01/13/2027", "14/01/2027") == ["2027-01-13", "!", "2027-01-14"]
    assert cells(DAY, "31/02/2027", "28/02/2027") == ["!", "2027-02-28"]
    assert cells(DAY, "27. 3. 12.") == ["?"]
    for none in ("2027-04-30T10:00", "30.4", "4/2027", "soon", "2027-13-01", "30.04.2027Z"):
        assert cells(DAY, none) == [None]


def _spelt(number: float, decimal: str, between: str) -> str:
    return f"{number:,.2f}".translate({ord(","): between, ord("."): decimal})


AMOUNTS = st.decimals(0, 9_999_999, places=2).map(float)


@pytest.mark.parametrize(
    "decimal, between", [(".", ","), (",", "."), (",", " "), (".", "'"), (",", "\u202f")]
)
@given(st.lists(AMOUNTS, min_size=1, max_size=6))
@settings(max_examples=deep(100))
def test_numbers_are_read_as_written(decimal: str, between: str, numbers: list[float]) -> None:
    """Two decimals leave no doubt, whatever stands between thousands."""
    made = read(PRICE, *(_spelt(number, decimal, between) for number in numbers))
    assert not made.faults
    assert [float(str(made.cells[n, 0])) for n in range(2, len(numbers) + 2)] == numbers


@given(st.lists(st.integers(1_000, 999_999), min_size=1, max_size=5), st.sampled_from(",."))
@settings(max_examples=deep(100))
def test_thousands_alone_are_asked_about(numbers: list[int], between: str) -> None:
    texts = [f"{number:,}".replace(",", between) for number in numbers]
    (fault,) = read(PRICE, *texts).faults
    assert f"{numbers[0]}" in fault.wrong
    sign = POINT if between == "," else COMMA
    made = read(PRICE, *texts, told=Told(decimal=sign))
    assert [int(str(made.cells[n, 0])) for n in range(2, len(numbers) + 2)] == numbers


def test_numbers_that_leave_no_doubt() -> None:
    assert cells(PRICE, "1.234", "0,5") == ["1234", "0.5"]
    assert cells(PRICE, "1.234", "0.5") == ["1.234", "0.5"]
    assert cells(PRICE, "1.234", separator=",") == ["1.234"]
    assert cells(PRICE, "1,234", separator=",") == ["?"]
    assert cells(PRICE, "1 234", "12") == ["1234", "12"]
    assert cells(PRICE, "0.5", "0,5", "0.7") == ["0.5", None, "0.7"]
    assert cells(PRICE, "0,5", "0.5", "0,7") == ["0.5", "!", "0.7"]
    assert cells(SHARE, "85%", "85,5 %", "0,85") == ["0.85", "0.855", "0.85"]
    assert cells(PRICE, "85%") == [None]
    for none in ("1,2,3", "12,34.5", "1.2.3", "0,123,456.7", "$5", "1_000", "１２"):
        assert cells(PRICE, none) == [None]


def test_another_column_of_the_table_shows_the_decimal_sign() -> None:
    body = [(2, ["1.234", "0,5"])]
    made = notation_of(Grid("t", [(1, ["price", "share"]), *body], False, 1, ";"), [PRICE, SHARE], body)
    assert made.cells == {(2, 0): "1234", (2, 1): "0.5"}
    made = notation_of(Grid("t", [(1, ["price", "share"]), *body], False, 1, ","), [PRICE, SHARE], body)
    assert made.cells[2, 0] is FAULTED


def test_a_number_typed_by_itself_is_read_as_its_country_writes_it_or_asked_about() -> None:
    for text, number in {
        "12": 12,
        "-1,5": -1.5,
        " 1 234,5 ": 1234.5,
        "1,234.5": 1234.5,
        "0,125": 0.125,
    }.items():
        assert number_typed(text) == number
    for text, remedy in {
        "1,200": "write 1.2000 or 1200",
        "1.200": "write 1.2000 or 1200",
        "x": "write a number such as 12 or 12.5",
        "": "write a number such as 12 or 12.5",
        "inf": "write a number such as 12 or 12.5",
    }.items():
        with pytest.raises(ValueError, match=r"number|may be") as error:
            number_typed(text)
        assert error.value.args[1] == remedy

"""Days, numbers and money as locales write them, and that the program's own reader reads them back."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from model.currencies import decimals
from model.scenario.entities import Nursery
from reports.book.retold import retelling
from reports.book.style import CellKind, number_format, printed
from reports.book.words import amount, number, printable, small_price, unit_price
from reports.book.writing import (
    GAP,
    NoLocale,
    day_and_month,
    figure,
    grouped,
    money,
    shown_day,
    shown_month,
    shown_share,
    writing,
    writing_of,
    written_as,
    written_by,
)
from scenarios.cells.typed import plain_day, plain_number
from tests.scenario_parts import order
from tests.strategies import base_scenario, with_nursery

LOCALES = ("en-GB", "de-DE", "fr-FR", "ja-JP", "en-US")
DAY = date(2027, 6, 5)


@pytest.fixture(autouse=True)
def _plain() -> Iterator[None]:
    with written_as(None):
        yield


def nursery(locale: str | None, currency: str) -> Nursery:
    return replace(base_scenario().nursery, locale=locale, currency=currency)


@pytest.mark.parametrize(
    "locale, currency, day, short, month, money, share",
    [
        (None, "EUR", "2027-06-05", "06-05", "2027-06", "-1,234.50 EUR", "12.5%"),
        ("en-GB", "GBP", "05/06/2027", "05/06", "06/2027", "-£1,234.50", "12.5%"),
        ("de-DE", "EUR", "05.06.2027", "05.06.", "06.2027", "-1.234,50_€", "12,5_%"),
        ("fr-FR", "EUR", "05/06/2027", "05/06", "06/2027", "-1_234,50_€", "12,5_%"),
        ("ja-JP", "JPY", "2027/06/05", "06/05", "2027/06", "-￥1,234", "12.5%"),
        ("en-US", "USD", "6/5/2027", "6/5", "6/2027", "-$1,234.50", "12.5%"),
        ("nl-NL", "EUR", "05-06-2027", "05-06", "06-2027", "€_-1.234,50", "12,5%"),
        ("hu-HU", "HUF", "2027._06._05.", "06._05.", "2027._06.", "-1_234,50_Ft", "12,5%"),
        ("sv-SE", "SEK", "2027-06-05", "06-05", "2027-06", "-1_234,50_kr", "12,5_%"),
    ],
)
def test_as_the_unicode_cldr_has_it(
    locale: str | None, currency: str, day: str, short: str, month: str, money: str, share: str
) -> None:
    """The charts of the CLDR (by-type: date and number patterns), read by eye; ``_``: a space of no break."""
    with written_as(nursery(locale, currency)):
        assert shown_day(DAY) == day.replace("_", GAP)
        assert (day_and_month(DAY), shown_month(DAY)) == (short.replace("_", GAP), month.replace("_", GAP))
        assert amount(-1234.5 + 0.5 * (currency == "JPY"), currency) == money.replace("_", GAP)
        assert shown_share(0.125) == share.replace("_", GAP)


@pytest.mark.parametrize(
    "locale, currency, formats",
    [
        (None, "EUR", ("yyyy-mm-dd", "#,##0.00", "#,##0.00##", "0.0%")),
        ("de-DE", "EUR", ("dd.mm.yyyy", '#,##0.00"_€"', '#,##0.00##"_€"', '0.0"_"%')),
        ("en-US", "USD", (r"m\/d\/yyyy", '"$"#,##0.00', '"$"#,##0.00##', "0.0%")),
        ("ja-JP", "JPY", (r"yyyy\/mm\/dd", '"￥"#,##0', '"￥"#,##0.00', "0.0%")),
    ],
)
def test_number_formats_of_workbooks(locale: str | None, currency: str, formats: tuple[str, ...]) -> None:
    kinds = (CellKind.DAY, CellKind.MONEY, CellKind.PRICE, CellKind.SHARE)
    with written_as(nursery(locale, currency)):
        found = tuple(number_format(kind, decimals(currency)) for kind in kinds)
    assert found == tuple(text.replace("_", GAP) for text in formats)


def test_finer_prices_and_other_numbers() -> None:
    with written_as(nursery("de-DE", "EUR")):
        assert unit_price(1.23456, "EUR") == f"1,2346{GAP}€"
        assert small_price(0.05, "EUR") == f"0,0500{GAP}€"
        assert printed(1.5, CellKind.PRICE, 2) == f"1,50{GAP}€"
        assert printed(-0.001, CellKind.MONEY, 2) == f"0,00{GAP}€"
        assert (number(1234.0), number(1234.56), figure(0.25), figure(5000, groups=True)) == (
            "1.234",
            "1.234,6",
            "0,25",
            "5.000",
        )
        assert amount(7, "USD") == f"7,00{GAP}$"  # another currency than the scenario's


@pytest.mark.parametrize("name", ["de", "de-XX", "German", "", "en-GB-oxendict-x", "en_GB_POSIX_x"])
def test_no_locale(name: str) -> None:
    with pytest.raises(NoLocale) as caught:
        writing_of(name, "EUR")
    wrong, remedy = caught.value.args
    assert "CLDR" in wrong or "country" in wrong
    assert "de-DE" in remedy


@pytest.mark.parametrize("name", ["de_DE", "DE-de", "de-DE"])
def test_a_locale_is_known_by_its_usual_spellings(name: str) -> None:
    with written_by(writing_of(name, "EUR")):
        assert shown_day(DAY) == "05.06.2027"


@given(day=st.dates(date(2000, 1, 1), date(2099, 12, 31)), locale=st.sampled_from(LOCALES))
def test_a_day_reads_back(day: date, locale: str) -> None:
    with written_as(nursery(locale, "EUR")):
        assert plain_day(shown_day(day)) == plain_day(day.isoformat()) == day.isoformat()


@given(
    cents=st.integers(-(10**11), 10**11),
    locale=st.sampled_from(LOCALES),
    currency=st.sampled_from(["EUR", "USD", "GBP", "JPY", "CHF", "TND"]),
)
def test_an_amount_reads_back(cents: int, locale: str, currency: str) -> None:
    value = cents / 10 ** decimals(currency)
    with written_as(nursery(locale, currency)):
        assert float(plain_number(amount(value, currency))) == value
        assert float(plain_number(grouped(value, 3))) == value
        assert float(plain_number(printed(value, CellKind.MONEY, decimals(currency)))) == value


@given(thousandths=st.integers(0, 1000), locale=st.sampled_from(LOCALES))
def test_a_share_reads_back(thousandths: int, locale: str) -> None:
    with written_as(nursery(locale, "EUR")):
        assert float(plain_number(shown_share(thousandths / 1000), share=True)) == thousandths / 1000


def test_what_is_typed_is_read_as_the_locale_writes_it() -> None:
    for locale, text, plain in (
        ("de-DE", "1.234", "1234"),
        ("de-DE", "1,5", "1.5"),
        ("de-DE", "1.5", "1.5"),
        ("de-DE", "0,95 €", "0.95"),
        ("en-US", "1,234", "1234"),
        ("en-US", "0,95", "0.95"),
        ("fr-FR", "1 234,5", "1234.5"),
        ("de-DE", "many", "many"),
    ):
        with written_as(nursery(locale, "EUR")):
            assert plain_number(text) == plain
    for locale, text, plain in (
        ("en-GB", "05/06/2027", "2027-06-05"),
        ("en-US", "05/06/2027", "2027-05-06"),
        ("en-US", "13/06/2027", "13/06/2027"),  # no day as that country writes it: refused where it is read
        ("de-DE", "2027-06-05", "2027-06-05"),
    ):
        with written_as(nursery(locale, "EUR")):
            assert plain_day(text) == plain


def test_sentences_of_the_model_are_told_again_but_names_stay() -> None:
    scenario = base_scenario()
    named = with_nursery(scenario, locale="de-DE")
    named = replace(named, orders=(order("A 2027-03-09, 1,500", scenario.products[0].product, 100, 20),))
    code = named.nursery.currency
    text = (
        "1,500.5 more slots in Bench from 2027-03-09 to 2027-03-12 for order A 2027-03-09, 1,500; costs "
        f"7.80 {code} more; 12 {code} a plant"
    )
    with written_as(named.nursery):
        assert retelling(named)(text) == (
            "1.500,5 more slots in Bench from 09.03.2027 to 12.03.2027 for order A 2027-03-09, 1,500; costs "
            f"{amount(7.8, code)} more; {money(12, code, -decimals(code))} a plant"
        )
    assert retelling(named)(text) == text


def test_how_things_are_written_ends_with_its_block() -> None:
    with written_as(nursery("de-DE", "EUR")), written_as(nursery("en-GB", "GBP")):
        assert writing().currency == "GBP"
    assert writing().locale is None


def test_a_space_inside_a_number_is_printed() -> None:
    assert printable(f"1{GAP}€\x1b") == f"1{GAP}€ "


def test_countries_of_the_cldr_write_days_that_read_back() -> None:
    """A fifth of all locales with a country: days in numbers, in an order that the reader knows."""
    from babel import localedata

    days = [date(2027, 1, 31), date(2027, 12, 5), DAY]
    read = 0
    for name in localedata.locale_identifiers()[::5]:
        try:
            how = writing_of(name, "EUR")
        except NoLocale:
            continue
        with written_by(how):
            for day in days:
                assert re.fullmatch(rf"[0-9]+[-/.]{GAP}?[0-9]+[-/.]{GAP}?[0-9]+\.?", shown_day(day)), name
                assert plain_day(shown_day(day)) == day.isoformat(), (name, shown_day(day))
        read += 1
    assert read > 100

"""How days, numbers and money are written for people: as the scenario's locale writes them.

Everything that a person reads goes through this module: pages, pictures, workbooks, papers, the terminal and
the desk. Files that programs read (CSV, TOML, JSON, iCalendar) never do: their days are ISO 8601, and their
numbers have a decimal point.

The locale is that of the scenario that a command, or a page of the desk, is about. It is told once, by
``write_as`` or in a block ``written_as``, so that sentences need not carry it. Without one, days are ISO
8601, numbers have a decimal point and commas between thousands, and money has the currency's code behind it.

Facts of locales are those of the Unicode CLDR, as the package Babel has them. Digits are always 0 to 9, a
minus is the hyphen of keyboards, spaces never break: so spreadsheets, and this program, read them back.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from copy import copy
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from model.currencies import decimals
from model.scenario.entities import Nursery

if TYPE_CHECKING:
    from babel import Locale

GAP = "\u00a0"
"""The space inside a number: a line never breaks there."""

ISO = "yyyy-MM-dd"

_NUMERIC = re.compile(r"(?:(?:y+|M{1,2}|d{1,2})(?:[-/.] ?|$)){3}")
"""Pattern of a day in numbers alone."""

_EXCEL = {"y": "yyyy", "M": "m", "MM": "mm", "d": "d", "dd": "dd", "/": "\\/"}
"""Parts of a pattern of days in number formats, where a bare slash would be the computer's own sign."""


class NoLocale(ValueError):
    """The text names no locale; the arguments are what is wrong with it, and the remedy."""


@dataclass(frozen=True, slots=True)
class Writing:
    """How a locale writes. ``locale`` None: without one.

    ``day``, ``day_and_month``, ``month``: patterns of the CLDR, in numbers, with all four digits of the year.
    ``currency``: code of the currency in which number formats of money are.
    """

    locale: Locale | None
    currency: str
    day: str = ISO
    day_and_month: str = "MM-dd"
    month: str = "yyyy-MM"

    @property
    def decimal(self) -> str:
        """The decimal sign."""
        return "." if self.locale is None else str(self.locale.number_symbols["latn"]["decimal"])

    def date(self, day: date, pattern: str) -> str:
        """A day by a pattern."""
        parts = {"yyyy": f"{day.year:04}", "MM": f"{day.month:02}", "dd": f"{day.day:02}"}
        parts |= {"M": f"{day.month}", "d": f"{day.day}"}
        return re.sub("y+|M+|d+", lambda found: parts[found[0]], pattern)

    def number(self, value: float, places: int) -> str:
        """A number with so many places, and a sign between thousands."""
        plain = f"{value:,.{places}f}"
        if self.locale is None:
            return plain
        return self._by(self.locale.decimal_formats[None], plain, places)

    def share(self, value: float, places: int) -> str:
        """A share as a percentage."""
        plain = f"{value:.{places}%}"
        if self.locale is None:
            return plain
        around = _tidy(self.locale.percent_formats[None].pattern)
        number = self.number(float(plain.removesuffix("%")), places)
        return re.sub("[#,.0]+", lambda _: number, around)

    def money(self, value: float, currency: str, places: int) -> str:
        """A sum with so many places and the sign of its currency."""
        plain = f"{value:,.{places}f}"
        if self.locale is None:
            return f"{plain} {currency}"
        return self._by(self.locale.currency_formats["standard"], plain, places, currency)

    def sum(self, value: float, places: int) -> str:
        """A sum as a column shows it: without a locale, the heading alone has the currency."""
        return self.number(value, places) if self.locale is None else self.money(value, self.currency, places)

    def _by(self, pattern: Any, plain: str, places: int, currency: str | None = None) -> str:
        """The number of a plain text by a pattern of the CLDR: rounded as without a locale."""
        pattern = copy(pattern)
        pattern.frac_prec = (places, places)
        number = Decimal(plain.replace(",", ""))
        return _tidy(pattern.apply(number, self.locale, currency=currency, currency_digits=False))

    def day_format(self, pattern: str) -> str:
        """The number format of workbooks for a pattern of days."""
        if self.locale is None:
            return pattern.lower()
        return re.sub("y+|M+|d+|/", lambda found: _EXCEL[found[0].replace("yyyy", "y")], pattern)

    def money_format(self, number: str) -> str:
        """The number format of workbooks for money, from that of its number: with the currency's sign.

        A workbook shows decimal signs, and those between thousands, as the computer is set that opens it.
        """
        if self.locale is None:
            return number
        shown = self.money(1, self.currency, 0)
        before, after = (f'"{part}"' if part else "" for part in shown.split("1"))
        return f"{before}{number}{after}"

    def share_format(self) -> str:
        """The number format of workbooks for a share."""
        shown = self.share(0.01, 0)
        before, after = shown.split("1")
        spaced = before.replace(GAP, f'"{GAP}"'), after.replace(GAP, f'"{GAP}"')
        return f"{spaced[0]}0.0{spaced[1]}"

    def without_sign(self, text: str) -> str:
        """The number in the text of a sum, without the sign or the code of the currency."""
        signs = [self.currency]
        if self.locale is not None:
            signs.insert(0, re.sub(rf"[1{GAP}]", "", self.money(1, self.currency, 0)))
        for sign in signs:
            text = re.sub(rf"^(-?)\s*{re.escape(sign)}\s*|\s*{re.escape(sign)}$", r"\1", text)
        return text


def _tidy(text: str) -> str:
    """A text of the CLDR without marks that turn its direction, with one kind of space and of minus."""
    text = "".join(c for c in text if unicodedata.category(c) != "Cf")
    return re.sub(r"\s", GAP, text).replace("\u2212", "-")


def locale_of(name: str) -> Locale:
    """The locale of a name such as de-DE; raises ``NoLocale`` where it is none with a country."""
    from babel import Locale, UnknownLocaleError

    remedy = "write a language and a country, such as en-GB, de-DE, fr-FR or ja-JP"
    try:
        found = Locale.parse(name.replace("_", "-"), sep="-")
    except (UnknownLocaleError, ValueError, TypeError):
        raise NoLocale("is no locale of the Unicode CLDR", remedy) from None
    if found.territory is None:
        raise NoLocale("names no country, and countries write days differently", remedy)
    return found


@cache
def writing_of(name: str | None, currency: str) -> Writing:
    """How the locale of a name writes; None: without one. Raises ``NoLocale``."""
    if name is None:
        return Writing(None, currency)
    locale = locale_of(name)
    day = _numeric(locale.date_formats["short"].pattern)
    if day is None:
        return Writing(locale, currency)
    without_year = re.sub(rf"^yyyy[-/.]{GAP}?|[-/]yyyy$|{GAP}?yyyy\.?$", "", day)
    without_day = re.sub(rf"d+[-/.]{GAP}?|[-/.]d+$", "", day).strip()
    return Writing(locale, currency, day, without_year, without_day)


def _numeric(pattern: str) -> str | None:
    """A pattern of days without marks and words, with the full year; None where it is not all numbers."""
    plain = re.sub(r"'[^']*'\.?", "", _tidy(pattern)).replace(GAP, " ").strip()
    plain = re.sub("y+", "yyyy", plain)
    return plain.replace(" ", GAP) if _NUMERIC.fullmatch(plain) else None


_PLAIN = Writing(None, "")
_now: ContextVar[Writing] = ContextVar("_now")


def writing() -> Writing:
    """How things are written now."""
    return _now.get(_PLAIN)


def is_plain() -> bool:
    """Whether nothing is written by a locale now."""
    return writing().locale is None


def write_as(nursery: Nursery) -> None:
    """Write all that follows as a nursery writes: for a command, which is about one scenario."""
    _now.set(writing_of(nursery.locale, nursery.currency))


@contextmanager
def written_as(nursery: Nursery | None) -> Iterator[None]:
    """Write what is told in the block as a nursery writes; None: without a locale."""
    with written_by(_PLAIN if nursery is None else writing_of(nursery.locale, nursery.currency)):
        yield


@contextmanager
def written_by(how: Writing) -> Iterator[None]:
    """Write what is told in the block so."""
    token = _now.set(how)
    try:
        yield
    finally:
        _now.reset(token)


def shown_day(day: date) -> str:
    """A day in numbers, such as 2027-03-05, or 05.03.2027 in Germany."""
    return writing().date(day, writing().day)


def day_and_month(day: date) -> str:
    """A day without its year."""
    return writing().date(day, writing().day_and_month)


def shown_month(day: date) -> str:
    """The month of a day, with its year."""
    return writing().date(day, writing().month)


def grouped(value: float, places: int = 0) -> str:
    """A number with so many places, such as 1,234.5."""
    return writing().number(value, places)


def figure(value: float, digits: int = 6, groups: bool = False) -> str:
    """A number with so many digits that count, none of them a 0 at the end, such as 0.25.

    ``groups``: with a sign between thousands.
    """
    locale, plain = writing().locale, f"{value:{',' if groups else ''}.{digits}g}"
    if locale is None:
        return plain
    signs = locale.number_symbols["latn"]
    return _tidy(plain.translate(str.maketrans({",": signs["group"], ".": signs["decimal"]})))


def shown_share(share: float, places: int = 1) -> str:
    """A share as a percentage, such as 12.5%."""
    return writing().share(share, places)


def money(value: float, currency: str, finer: int = 0) -> str:
    """A sum with the decimals of its currency and ``finer`` more, such as 1,234.50 EUR."""
    return writing().money(value, currency, decimals(currency) + finer)

"""The size of paper on which reports print: that of the scenario's country, told by its currency.

A scenario names no country. Where a currency is used in several, the country that it is named after decides:
US dollars mean US letter, though Ecuador, which uses them too, prints on A4.
"""

from __future__ import annotations

from typing import NamedTuple


class Paper(NamedTuple):
    """A size of paper: its name in style sheets (CSS Paged Media), and its number in workbooks (ECMA-376)."""

    name: str
    number: int


A4, LETTER = Paper("A4", 9), Paper("letter", 1)

_NAMES = "BZD CAD CLP COP CRC GTQ MXN NIO PAB PHP SVC USD VED VES"
_LETTER = frozenset(_NAMES.split())
"""Currencies of the countries that use US letter (Unicode CLDR, supplemental data, ``paperSize``).

These are BZ, CA, CL, CO, CR, GT, MX, NI, PA, PH, PR, SV, US and VE. All others use A4.
"""


def paper_of(currency: str) -> Paper:
    """The paper of the country of a currency, by its ISO 4217 code."""
    return LETTER if currency in _LETTER else A4

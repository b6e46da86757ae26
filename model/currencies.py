"""Currencies in use and their decimals, by ISO 4217, list one (SIX, maintenance agency; as of 2026).

Metals, bond market units, funds codes and the codes for tests and for no currency are left out.
"""

from __future__ import annotations

_IN_USE = """
AED AFN ALL AMD AOA ARS AUD AWG AZN BAM BBD BDT BHD BIF BMD BND BOB BRL BSD BTN BWP BYN BZD CAD CDF
CHF CLP CNY COP CRC CUP CVE CZK DJF DKK DOP DZD EGP ERN ETB EUR FJD FKP GBP GEL GHS GIP GMD GNF GTQ
GYD HKD HNL HTG HUF IDR ILS INR IQD IRR ISK JMD JOD JPY KES KGS KHR KMF KPW KRW KWD KYD KZT LAK LBP
LKR LRD LSL LYD MAD MDL MGA MKD MMK MNT MOP MRU MUR MVR MWK MXN MYR MZN NAD NGN NIO NOK NPR NZD OMR
PAB PEN PGK PHP PKR PLN PYG QAR RON RSD RUB RWF SAR SBD SCR SDG SEK SGD SHP SLE SOS SRD SSP STN SVC
SYP SZL THB TJS TMT TND TOP TRY TTD TWD TZS UAH UGX USD UYU UZS VED VES VND VUV WST XAF XCD XCG XOF
XPF YER ZAR ZMW ZWG
"""

CODES = frozenset(_IN_USE.split())

_USUAL = 2

_OTHERS = {
    0: "BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX VND VUV XAF XOF XPF",
    3: "BHD IQD JOD KWD LYD OMR TND",
}
"""Codes whose minor unit is not a hundredth, by its decimals: column "minor unit" of ISO 4217, list one.

A minor unit of a fifth (MGA, MRU) stands there with 2 decimals, like most.
"""

_DECIMALS = {code: places for places, codes in _OTHERS.items() for code in codes.split()}


def decimals(code: str) -> int:
    """Decimals of a sum in the currency of a code."""
    return _DECIMALS.get(code, _USUAL)


def as_shown(value: float, code: str) -> float:
    """A sum as it is shown in the currency of a code: sums that are shown alike are equal."""
    return round(value, decimals(code))


def least_sum(code: str) -> float:
    """Half of the smallest sum that is shown in the currency: any sum below it is shown as nothing."""
    return 0.5 * 10.0 ** -decimals(code)

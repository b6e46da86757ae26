"""The rules of RFC 5545 that a feed of all-day events must keep, checked on its bytes alone.

Written from the standard's text and sharing nothing with the library that writes the feed: 3.1 content lines
and folding, 3.2 parameters, 3.3.4 and 3.3.5 dates, 3.3.11 text, 3.4 and 3.6 components, 3.6.1 events,
3.7 and 3.8 how often a property may stand.
"""

from __future__ import annotations

import re
from collections import Counter
from datetime import datetime

LONGEST_LINE = 75
"""Octets of a line without its line break."""

LINE = re.compile(r'([A-Za-z0-9-]+)((?:;[A-Za-z0-9-]+=(?:"[^"]*"|[^";:,]*))*):(.*)', re.DOTALL)
TEXT = re.compile(r"(?:\\[\\;,nN]|[^\\;,\x00-\x08\x0a-\x1f\x7f])*")
TEXT_LIST = re.compile(rf"{TEXT.pattern}(?:,{TEXT.pattern})*")
DATE, UTC = re.compile(r"\d{8}"), re.compile(r"\d{8}T\d{6}Z")

VALUES = {
    "VERSION": re.compile(r"2\.0"),
    "PRODID": TEXT,
    "CALSCALE": re.compile("GREGORIAN"),
    "NAME": TEXT,
    "UID": TEXT,
    "DTSTAMP": UTC,
    "DTSTART": DATE,
    "DTEND": DATE,
    "SEQUENCE": re.compile(r"\d+"),
    "SUMMARY": TEXT,
    "DESCRIPTION": TEXT,
    "LOCATION": TEXT,
    "CATEGORIES": TEXT_LIST,
    "STATUS": re.compile("TENTATIVE|CONFIRMED|CANCELLED"),
    "TRANSP": re.compile("OPAQUE|TRANSPARENT"),
}
"""What the value of each property may be; NAME is of RFC 7986."""

REQUIRED = {"VCALENDAR": {"VERSION", "PRODID"}, "VEVENT": {"UID", "DTSTAMP", "DTSTART"}}
MANY = {"CATEGORIES"}


def unfolded(feed: bytes) -> list[str]:
    """Content lines with their folds undone (3.1)."""
    return feed.decode("utf-8").removesuffix("\r\n").replace("\r\n ", "").split("\r\n")


def faults(feed: bytes) -> list[str]:
    """Everything that breaks a rule; nothing for a valid feed."""
    found = _lines(feed)
    components: list[tuple[str, list[tuple[str, str, str]]]] = []
    open_: list[str] = []
    properties: list[list[tuple[str, str, str]]] = []
    for line in unfolded(feed):
        parsed = LINE.fullmatch(line)
        if parsed is None:
            found.append(f"no content line: {line!r}")
            continue
        name, parameters, value = parsed[1].upper(), parsed[2], parsed[3]
        if name == "BEGIN":
            open_.append(value)
            properties.append([])
        elif name == "END":
            if not open_ or open_.pop() != value:
                return [*found, f"END of {value}, which is not open"]
            components.append((value, properties.pop()))
        elif properties:
            properties[-1].append((name, parameters, value))
        else:
            found.append(f"{name} outside any component")
    if open_ or [name for name, _ in components].count("VCALENDAR") != 1:
        found.append("not one whole VCALENDAR")
    for name, held in components:
        found += _component(name, held)
    uids = Counter(value for _, held in components for name, _, value in held if name == "UID")
    return found + [f"UID {uid} stands {n} times" for uid, n in uids.items() if n > 1]


def _lines(feed: bytes) -> list[str]:
    found = []
    if not feed.endswith(b"\r\n") or re.search(rb"(?<!\r)\n|\r(?!\n)", feed):
        found.append("a line does not end in CRLF")
    for line in feed.split(b"\r\n"):
        if len(line) > LONGEST_LINE:
            found.append(f"line of {len(line)} octets")
        try:
            line.decode("utf-8")
        except UnicodeDecodeError:
            found.append("a character is folded in two")
    return found


def _component(name: str, held: list[tuple[str, str, str]]) -> list[str]:
    counts = Counter(property_ for property_, _, _ in held)
    found = [f"{name} without {missing}" for missing in sorted(REQUIRED.get(name, {"?"}) - set(counts))]
    found += [f"{p} stands {n} times" for p, n in counts.items() if n > 1 and p not in MANY]
    values = {}
    for property_, parameters, value in held:
        values[property_] = value
        rule = VALUES.get(property_)
        if rule is None or rule.fullmatch(value) is None:
            found.append(f"{property_} may not be {value!r}")
        if parameters != (";VALUE=DATE" if property_ in ("DTSTART", "DTEND") else ""):
            found.append(f"{property_} may not have {parameters!r}")
    for property_ in ("DTSTART", "DTEND"):
        if property_ in values and not _is_day(values[property_]):
            found.append(f"{values[property_]} is no day")
    if "DTEND" in values and values["DTEND"] <= values.get("DTSTART", ""):
        found.append("DTEND is not after DTSTART")
    return found


def _is_day(text: str) -> bool:
    try:
        datetime.strptime(text, "%Y%m%d")
    except ValueError:
        return False
    return True

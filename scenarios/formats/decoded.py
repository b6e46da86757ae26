"""The bytes of a text file as text: Unicode by its mark or form, else a code page that leaves no doubt.

A code page cannot be read off a file. The bytes of 'Müller' in one are 'Mьller' in another. So each likely
code page is tried. One that makes words nobody writes (letters of two scripts, a capital within a word) is
left out. Where the others agree, that is the text. Where they differ, the owner is asked.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scenarios.cells.faults import shown
from scenarios.cells.grid import FileFault

CODE_PAGES: Mapping[str, str] = {
    "windows-1252": "cp1252",
    "windows-1250": "cp1250",
    "windows-1251": "cp1251",
    "windows-1254": "cp1254",
    "windows-1257": "cp1257",
    "windows-1253": "cp1253",
    "macintosh": "mac_roman",
}
"""Code pages that are tried, by their names in the register of the IANA; the codec of each."""

WINDOWS = [name for name in CODE_PAGES if name.startswith("windows")]
"""Code pages that need no question where all others fail; a text of East Asia may look like the last one."""

ENCODINGS: Mapping[str, str] = {
    **CODE_PAGES,
    "utf-8": "utf-8-sig",
    "ibm850": "cp850",
    "ibm852": "cp852",
    "windows-1255": "cp1255",
    "windows-1256": "cp1256",
    "windows-1258": "cp1258",
    "windows-874": "cp874",
    "shift_jis": "cp932",
    "gbk": "cp936",
    "euc-kr": "cp949",
    "big5": "cp950",
}
"""Encodings that the first line of a file may name; the codec of each."""

SAVE_AS = "save it as 'CSV UTF-8'"

MOST_SHOWN = 5
"""Readings of a word that the question shows."""

WORD = re.compile(rb"[A-Za-z\x80-\xff'-]*[\x80-\xff][A-Za-z\x80-\xff'-]*")
NAMED = re.compile(rb"[\"']?encoding=([^\"';,|\t\r\n]*)", re.IGNORECASE)
WITHIN = set("'’‘-‐–·\u00ad")
"""Characters other than letters that stand within words."""


@dataclass(frozen=True, slots=True)
class Decoded:
    """A file's text, and in words how its bytes were read; blank for UTF-8."""

    text: str
    how: str = ""


def decoded(data: bytes) -> Decoded:
    """The text of a file's bytes; raises ``FileFault`` where no encoding, or more than one, fits."""
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _utf_16(data)
    if b"\0" in data:
        raise FileFault("holds a NUL byte: it is not a text file", SAVE_AS)
    named = _named(data)
    if named:
        return _as_named(data, named)
    try:
        return Decoded(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        return _by_code_page(data, error.start)


def _utf_16(data: bytes) -> Decoded:
    try:
        text = data.decode("utf-16")
    except UnicodeDecodeError:
        raise FileFault("begins as UTF-16 text and is none", SAVE_AS) from None
    if "\0" in text:
        raise FileFault("holds a NUL character: it is not a text file", SAVE_AS)
    return Decoded(text, "read as UTF-16 text")


def _named(data: bytes) -> str:
    """The encoding that one of the first lines names; blank where none does."""
    for line in data[:1000].splitlines()[:4]:
        found = NAMED.match(line.removeprefix(b"\xef\xbb\xbf"))
        if found:
            return found[1].decode("latin-1").strip().casefold()
    return ""


def _as_named(data: bytes, name: str) -> Decoded:
    if name not in ENCODINGS:
        wrong = f"names the encoding '{shown(name)}', which is not known here"
        raise FileFault(wrong, f"the encodings are {', '.join(ENCODINGS)}", 1)
    try:
        return Decoded(data.decode(ENCODINGS[name]), f"read as {name} text, as its first line says")
    except UnicodeDecodeError as error:
        row = data[: error.start].count(b"\n") + 1
        wrong = f"is not {name} text (byte {data[error.start]:#04x}), though its first line says so"
        raise FileFault(wrong, "name another encoding, or " + SAVE_AS, row) from None


def _by_code_page(data: bytes, first: int) -> Decoded:
    """The text by the code pages that make sense of every word; asks where these disagree, or none does."""
    words = sorted(set(WORD.findall(data)), key=data.index)
    readings = {name: read for name, codec in ENCODINGS.items() if (read := _words(words, codec)) is not None}
    sound = {name: read for name, read in readings.items() if name in CODE_PAGES and all(map(_is_word, read))}
    name, read = next(iter(sound.items()), ("", []))
    if name in WINDOWS and all(other == read for other in sound.values()):
        return Decoded(data.decode(CODE_PAGES[name]), f"read as {name} text, as in '{shown(read[0])}'")
    likely = {name: read for name, read in readings.items() if all(map(_is_word, read))}
    choices = _choices(sound if name in WINDOWS else likely or readings)
    raise FileFault(
        f"is not UTF-8 text (byte {data[first]:#04x}), and may be text of several code pages",
        f"write the right one into a line above the heading: {choices}; or {SAVE_AS}",
        data[:first].count(b"\n") + 1,
    )


def _choices(readings: Mapping[str, list[str]]) -> str:
    """Lines that the owner may write, each with the word in which they differ most."""
    differ = max(zip(*readings.values(), strict=True), key=lambda words: len(set(words)), default=())
    told: dict[str, str] = {}
    for name, word in zip(readings, differ, strict=False):
        told.setdefault(word, name)
    lines = [f"encoding={name} for '{shown(word)}'" for word, name in list(told.items())[:MOST_SHOWN]]
    return ", ".join(lines) or f"encoding={next(iter(ENCODINGS))}"


def _words(words: Iterable[bytes], codec: str) -> list[str] | None:
    """The words in a code page; None where it lacks one of their bytes."""
    try:
        return [word.decode(codec) for word in words]
    except UnicodeDecodeError:
        return None


def _is_word(word: str) -> bool:
    """Whether a person may have written it: one script, no sign within, no capital behind a small letter."""
    for run in re.split(r"[^\w’‘'·\u00ad]+|_", word):
        scripts = {unicodedata.name(c, "").split(" ")[0] for c in run if c.isalpha()}
        if len(scripts - {"FEMININE", "MASCULINE", "MODIFIER"}) > 1:
            return False
    if any(unicodedata.category(c) in ("Cc", "Cn", "Co") or "\u2500" <= c <= "\u259f" for c in word):
        return False
    for before, at, after in zip(f" {word}", word, f"{word[1:]} ", strict=False):
        if at.isascii():
            continue
        if not at.isalpha() and at not in WITHIN and before.isalpha() and after.isalpha():
            return False
        if unicodedata.category(at).startswith("S") and after.isalpha():
            return False
        if at.isupper() and (before.islower() or (before.isalpha() and after.islower())):
            return False
        if at.islower() and before.isupper() and after.isupper():
            return False
    return True

"""Text files that are not UTF-8: read where one code page alone makes sense of them, else asked about."""

from __future__ import annotations

import pytest

from scenarios.cells.grid import FileFault
from scenarios.formats.decoded import ENCODINGS, decoded

CLEAR = {
    "windows-1252": "Gärtnerei Müller, Österreich, groß",
    "windows-1250": "Łódź Kraków żółty",
    "windows-1253": "Θερμοκήπιο",
}


@pytest.mark.parametrize("name", CLEAR)
def test_a_text_that_leaves_no_doubt(name: str) -> None:
    made = decoded(CLEAR[name].encode(ENCODINGS[name]))
    assert made.text == CLEAR[name]
    assert made.how.startswith(f"read as {name} text, as in '{CLEAR[name].split()[0]}")


ASKED = {
    "windows-1252": "Pépinière de Noël",
    "windows-1250": "Příkop",
    "windows-1251": "Теплица",
    "windows-1254": "Bahçe Yıldız",
    "windows-1257": "Šiltnamis ąžuolas",
    "macintosh": "Müller",
    "ibm850": "Gärtner Müller",
    "gbk": "嫁接苗 番茄",
}


@pytest.mark.parametrize("name", ASKED)
def test_a_text_that_may_be_another_is_asked_about(name: str) -> None:
    """The question offers the right code page, and a line above the heading answers it."""
    with pytest.raises(FileFault) as caught:
        decoded(f"a,b\n1,{ASKED[name]}".encode(ENCODINGS[name]))
    assert f"encoding={name} for '" in caught.value.remedy
    assert caught.value.row == 2
    text = f"encoding={name}\na,b\n1,{ASKED[name]}"
    assert decoded(text.encode(ENCODINGS[name])).text == text


def test_unicode_by_its_mark() -> None:
    for codec, how in (("utf-8-sig", ""), ("utf-16", "read as UTF-16 text"), ("utf-8", "")):
        made = decoded("Łódź, 東京".encode(codec))
        assert (made.text, made.how) == ("Łódź, 東京", how)
    assert decoded("\ufeffŁódź".encode("utf-16-be")).text == "Łódź"

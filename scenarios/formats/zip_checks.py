"""Workbooks that are zip files, refused before anything is unpacked: too large, too steep, with entities."""

from __future__ import annotations

import zipfile
from xml.sax import SAXException
from xml.sax.handler import ContentHandler

import defusedxml.sax

from scenarios.cells.grid import FileFault

LARGEST_FILE = 50_000_000
LARGEST_EXPANDED = 100_000_000
"""Bytes of the file, and of all its parts once expanded."""
MOST_PARTS = 1000
STEEPEST, STEEP_FROM = 200, 1_000_000
"""A part of more than ``STEEP_FROM`` bytes that shrank by more than the factor ``STEEPEST`` is no table."""

SAVE_AS = "open it in a spreadsheet program and save it as .xlsx"


def check_parts(archive: zipfile.ZipFile) -> None:
    """Refuse a file that is too large when expanded, from the zip directory alone."""
    parts = archive.infolist()
    if len(parts) > MOST_PARTS:
        raise FileFault(f"has {len(parts):,} parts", "keep only the tables in it")
    if sum(part.file_size for part in parts) > LARGEST_EXPANDED:
        wrong = f"is larger than {LARGEST_EXPANDED:,} bytes when expanded"
        raise FileFault(wrong, "keep only the tables in it")
    for part in parts:
        if part.file_size > max(STEEP_FROM, STEEPEST * part.compress_size):
            wrong = f"is packed more than {STEEPEST} times: a zip bomb"
            raise FileFault(wrong, "name a workbook that you know")
        if part.flag_bits & 1:
            raise FileFault("is protected by a password", "save it without a password")


def check_xml(archive: zipfile.ZipFile) -> None:
    """Refuse document types, and so XML entities, in any part, before any other code parses it."""
    for name in archive.namelist():
        if name.endswith((".xml", ".rels")):
            parse(archive, name, ContentHandler())


def parse(archive: zipfile.ZipFile, name: str, handler: ContentHandler) -> None:
    """Parse a part without its document type; raises ``FileFault`` where it is no XML."""
    with archive.open(name) as part:
        try:
            defusedxml.sax.parse(part, handler, forbid_dtd=True)
        except SAXException as error:
            raise FileFault(f"is damaged: {name}: {error}", SAVE_AS) from None

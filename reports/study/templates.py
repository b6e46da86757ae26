"""The templates of pages and pictures, in the folder page_parts."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from reports.book.words import printable

PARTS = Path(__file__).with_name("page_parts")


@cache
def _environment(parts: Path, escapes: bool) -> Environment:
    return Environment(
        loader=FileSystemLoader(parts),
        autoescape=escapes,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=lambda value: printable(value) if type(value) is str else value,
    )


def rendered(name: str, /, *, parts: Path = PARTS, **values: Any) -> Markup:
    """The template of the folder ``parts`` filled with values.

    Every text stands on one line, escaped except in style sheets.
    """
    return Markup(_environment(parts, not name.endswith(".css")).get_template(name).render(values))

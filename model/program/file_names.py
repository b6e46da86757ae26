"""Names of variables and rows in program files: readable, legal in LP and MPS files, and unique."""

from __future__ import annotations

import re
from collections.abc import Sequence

from model.program.index_sets import Label

LONGEST = 255
"""Greatest length of a name, in characters, that an LP file allows."""

KEPT = {" ": "_", "-": "."}
"""Characters that are replaced by another one. ASCII letters and digits are kept."""


def names(kind: str, labels: Sequence[Label]) -> list[str]:
    """A name for each label of a variable or a constraint group.

    Names are ``kind(part,part,...)``. In a part an underscore replaces a space and a dot a hyphen. ASCII
    letters and digits are kept. Any other character is written as its hexadecimal code: ``~2c~`` is a comma.
    A missing part is empty. A name longer than ``LONGEST`` is cut and ends with ``#`` and its position,
    from 0.
    """
    return [_cut(f"{kind}({','.join(map(_part, label))})", n) for n, label in enumerate(labels)]


def _part(part: str | float | None) -> str:
    if part is None:
        return ""
    text = part if isinstance(part, str) else f"{part:.17g}"
    return re.sub("[^A-Za-z0-9]", _character, text)


def _character(match: re.Match[str]) -> str:
    return KEPT.get(match[0]) or f"~{ord(match[0]):x}~"


def _cut(name: str, n: int) -> str:
    if len(name) <= LONGEST:
        return name
    end = f"#{n})"
    return name[: LONGEST - len(end)] + end

"""Names of variables and rows in program files: made of meaning, legal in LP and MPS files, no two alike."""

from __future__ import annotations

import re
from collections.abc import Sequence

from model.program.index_sets import Label

LONGEST = 255
"""Characters that a name in an LP file may have."""

KEPT = {" ": "_", "-": "."}
"""Characters that another stands for; letters and digits of ASCII stand for themselves."""


def names(kind: str, labels: Sequence[Label]) -> list[str]:
    """A name for each label of a variable or a constraint group.

    Names are ``kind(part,part,...)``. In a part an underscore stands for a space and a dot for a hyphen.
    Any other character but letters and digits of ASCII is its code in hexadecimal digits: ``~2c~`` is a
    comma. A missing part is empty. A name longer than ``LONGEST`` is cut and ends with ``#`` and its
    position, from 0.
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

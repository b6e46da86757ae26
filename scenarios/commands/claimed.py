"""Claim the output folder of a verb, knowing every file that the verb reads."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from scenarios.files.output import Output


def claimed(options: Namespace, names: Sequence[str], carried: Sequence[str] = ()) -> Output:
    """Claim the folder that ``--output`` names for files of these names; see ``output.claim``."""
    from scenarios.files.output import claim

    return claim(options.output, names, reads_of(options), carried)


def reads_of(options: Namespace) -> dict[Path, str]:
    """Every file and folder that the verb will read, with its purpose in words."""
    from scenarios.variants.by_name import path_of
    from scenarios.variants.variants import sources

    named = {
        "the scenario": [getattr(options, "scenario", None)],
        "a variant to compare": getattr(options, "variants", []),
        "the progress": [options.progress],
        "the log of counts": [getattr(options, "counts", None)],
        "the orders asked for": [getattr(options, "orders", None)],
    }
    found: dict[Path, str] = {}
    for what, names in named.items():
        for name in names:
            if name is not None:
                first, *rest = sources(path_of(name))
                found.setdefault(first, what)
                for path in rest:
                    found.setdefault(path, f"a part of {what}")
    if getattr(options, "last", None) is not None:
        from scenarios.files.read_plan import last_tables

        for path in last_tables(options.last):
            found.setdefault(path, "the last plan")
    if getattr(options, "variants", None) == []:
        for path in sorted((path_of(options.scenario) / "variants").glob("*.toml")):
            found.setdefault(path, "a variant to compare")
    return found

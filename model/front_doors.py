"""Public names of a package, each imported at its first use (PEP 562)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module


def front_doors(
    package: str, modules: Mapping[str, str]
) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """The functions ``__getattr__`` and ``__dir__`` of a package.

    ``modules`` gives the module that holds each name. A module is imported only when one of its names is
    used, so importing one small module of the package does not load the solver.
    """

    def load(name: str) -> object:
        if name not in modules:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(modules[name]), name)

    return load, lambda: sorted(modules)

"""Names that a package offers at its top, each loaded when it is first asked for (PEP 562)."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module


def front_doors(
    package: str, modules: Mapping[str, str]
) -> tuple[Callable[[str], object], Callable[[], list[str]]]:
    """The functions ``__getattr__`` and ``__dir__`` of a package.

    ``modules`` gives the module that holds each name. Nothing is imported before a name is asked for, so
    that importing one small module of the package does not load the solver.
    """

    def load(name: str) -> object:
        if name not in modules:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(modules[name]), name)

    return load, lambda: sorted(modules)

"""Public names of a package that load from their modules when first used.

A package's ``__init__`` names the module of each public name and says::

    __getattr__, __dir__ = lazily(__name__, _HOME)

so that importing the package loads nothing else (PEP 562).
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def lazily(
    package: str, home: Mapping[str, str]
) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """Return a package's ``__getattr__`` and ``__dir__``.

    Parameters
    ----------
    package
        Its ``__name__``.
    home
        Public name -> module inside the package that holds it.

    Returns
    -------
    tuple
        The two functions; the first raises :class:`AttributeError` for names it does not know.
    """

    def load(name: str) -> Any:
        if name not in home:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        value = getattr(import_module(f"{package}.{home[name]}"), name)
        vars(sys.modules[package])[name] = value
        return value

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *home})

    return load, names

"""Public names of a package that load from their modules when first used.

A package's ``__init__`` names the module of each public name and says::

    __getattr__, __dir__ = lazily(__name__, _HOME)

so that importing the package loads nothing else (PEP 562).
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType

TYPE_CHECKING = False  # typing itself would be a tenth of the time --help may take
if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from inspect import Signature
    from typing import Any


class CallablePackage(ModuleType):
    """A package that can be called: ``measure(...)`` is the front's function of that name."""

    def __call__(self, *given: Any, **named: Any) -> Any:
        """Call the function; its own docstring stands in :mod:`tonecompare.front`."""
        return self._front()(*given, **named)

    @property
    def __signature__(self) -> Signature:
        from inspect import signature

        return signature(self._front())

    def _front(self) -> Callable[..., Any]:
        root, _, name = self.__name__.rpartition(".")
        function: Callable[..., Any] = getattr(import_module(f"{root}.front"), name)
        return function


class FrontPackage(ModuleType):
    """The root package: makes those sub-packages callable that ``_CALLABLE`` in it names."""

    def __setattr__(self, name: str, value: Any) -> None:
        if name in vars(self).get("_CALLABLE", ()) and type(value) is ModuleType:
            value.__class__ = CallablePackage
        super().__setattr__(name, value)


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
        value = import_module(f"{package}.{home[name]}")
        if home[name] != name:
            value = getattr(value, name)
        vars(sys.modules[package])[name] = value
        return value

    def names() -> list[str]:
        return sorted({*vars(sys.modules[package]), *home})

    return load, names

"""Public names load when first used, and every name promised is there."""

from __future__ import annotations

from importlib import import_module

import pytest

from tonecompare.lazy import lazily

PACKAGES = (
    "tonecompare", "tonecompare.session", "tonecompare.takes", "tonecompare.measure",
    "tonecompare.compare", "tonecompare.compare.check", "tonecompare.report",
    "tonecompare.strings", "tonecompare.front",
)  # fmt: skip


@pytest.mark.parametrize("package", PACKAGES)
def test_every_public_name_loads_and_is_listed(package: str) -> None:
    module = import_module(package)
    assert module.__all__
    for name in module.__all__:
        assert getattr(module, name) is not None
        assert name in dir(module)


@pytest.mark.parametrize("package", PACKAGES)
def test_an_unknown_name_is_refused_by_name(package: str) -> None:
    with pytest.raises(AttributeError, match=f"module '{package}' has no attribute 'nothing'"):
        _ = import_module(package).nothing


def test_a_name_is_loaded_once() -> None:
    load, names = lazily("tonecompare.session", {"note_number": "note_names"})
    first = load("note_number")
    assert first("A4") == 69  # MIDI number of A4, as the trade counts
    assert load("note_number") is first
    assert "note_number" in names()

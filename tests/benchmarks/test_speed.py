"""Speed by pytest-benchmark (``pytest tests/benchmarks --benchmark-enable``); once without it."""

from __future__ import annotations

from pathlib import Path

import pytest
import speed_parts as parts
from pytest_benchmark.fixture import BenchmarkFixture

from tonecompare.takes.model import Take


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """28 s with one pluck of each open string."""
    return parts.recording(tmp_path_factory.mktemp("speed"), repeats=1)


@pytest.fixture(scope="module")
def take(path: Path) -> Take:
    return parts.our_takes(path)


def test_takes(benchmark: BenchmarkFixture, path: Path) -> None:
    found = benchmark(parts.our_takes, path)
    assert len(found.plucks) == 6


def test_measure(benchmark: BenchmarkFixture, take: Take) -> None:
    assert benchmark(parts.our_measures, take) == 6

"""Charts drawn in other processes speak the language of the page, the last as the first."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import joblib
import pytest

from tonecompare.language import catalogue
from tonecompare.report.charts import draw_all
from tonecompare.report.charts.draw_all import Album, Drawn


class AsksFromAThread:
    """Takes its jobs in a thread of its own, as joblib does for all but the first few."""

    def __init__(self, **_settings: object) -> None:
        pass

    def __call__(self, jobs: Iterable[tuple[Callable[..., Any], tuple[Any, ...], Any]]) -> Any:
        def every() -> list[tuple[Callable[..., Any], tuple[Any, ...], Any]]:
            return list(jobs)

        with ThreadPoolExecutor(1) as threads:
            return iter([work(*given) for work, given, _ in threads.submit(every).result()])


@pytest.fixture
def german_is_spoken() -> Iterator[None]:
    token = catalogue._chosen.set("de")
    yield
    catalogue._chosen.reset(token)


def test_every_job_is_given_the_language_spoken_where_it_was_asked_for(
    german_is_spoken: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    spoken = []

    def drawn_in(code: str, *_work: object) -> Drawn:
        spoken.append(code)
        return Drawn("<svg/>", "", "", None)

    monkeypatch.setattr(joblib, "Parallel", AsksFromAThread)
    monkeypatch.setattr(draw_all, "_drawn_in", drawn_in)
    album = Album()
    for number in range(2 * draw_all._WORTH_A_WORKER):
        album.add(f"chart {number}", lambda: None, alt="", caption="", texts=())  # type: ignore[arg-type, return-value]
    album.draw(2)
    assert spoken == ["de"] * 2 * draw_all._WORTH_A_WORKER

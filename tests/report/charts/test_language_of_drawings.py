"""Charts drawn in other processes speak the language of the page, the last as the first."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future
from typing import Any

from matplotlib.figure import Figure

from tonecompare.language import in_language, tr
from tonecompare.report.charts.draw_all import Album


class Later(Executor):
    """Begins what it was given when it is told to, where another language may be spoken by then."""

    def __init__(self) -> None:
        self._given: list[tuple[Future[Any], Callable[[], Any]]] = []

    def submit(self, work: Callable[..., Any], /, *given: Any, **named: Any) -> Future[Any]:
        future: Future[Any] = Future()
        self._given.append((future, lambda: work(*given, **named)))
        return future

    def begin(self, number: int) -> None:
        """Do the first of what was given."""
        for future, work in self._given[:number]:
            assert future.set_running_or_notify_cancel()
            future.set_result(work())


def _titled() -> Figure:
    figure = Figure()
    figure.text(0.5, 0.5, tr("Frequency in Hz"))
    return figure


def test_every_chart_speaks_the_language_in_which_it_was_asked_for() -> None:
    others = Later()
    album = Album(others)
    with in_language("de"):
        pictures = [album.add(f"chart {n}", _titled, alt="", caption="", texts=()) for n in (1, 2)]
    others.begin(1)  # the second is drawn here, once nobody has begun it
    with in_language("de"):
        album.draw()
    assert ["Frequenz in Hz" in picture.svg for picture in pictures] == [True, True]
    assert set(album.files) == {picture.href for picture in pictures}


def test_the_first_charts_are_drawn_here_where_another_process_has_to_start_first() -> None:
    others = Later()
    album = Album(others, here=1)
    for n in (1, 2):
        album.add(f"chart {n}", _titled, alt="", caption="", texts=())
    assert len(others._given) == 1

"""Every recording of a session once, wherever the work is done."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TypeVar

from tonecompare.kept.store import Store
from tonecompare.session.model import Session
from tonecompare.workers.in_turn import Instead, ProgressCall, Work, recordings_in_turn

_T = TypeVar("_T")


def every_recording(
    session: Session,
    work: Work[_T],
    *,
    workers: int,
    scheduler: str | None = None,
    store: Store | None = None,
    instead: Instead[_T] | None = None,
    progress: ProgressCall | None = None,
    meanwhile: Callable[[], object] | None = None,
) -> Iterator[_T]:
    """Yield what ``work`` makes of each recording, in their order; the same wherever it is done.

    Parameters
    ----------
    session, work, workers, store, instead, progress, meanwhile
        As for :func:`tonecompare.workers.in_turn.recordings_in_turn`.
    scheduler
        Address of a dask scheduler whose workers do the work, instead of processes here.

    Raises
    ------
    InputError
        When the cluster cannot do it; the message says why.
    """
    if scheduler is None:
        return recordings_in_turn(
            session, work, workers=workers, store=store, instead=instead, progress=progress,
            meanwhile=meanwhile,
        )  # fmt: skip
    from tonecompare.workers.on_cluster import recordings_on_cluster

    return recordings_on_cluster(
        session, work, scheduler=scheduler, store=store, instead=instead, progress=progress
    )

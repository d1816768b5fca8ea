"""The recordings of a session shared out to a cluster, which reads them where they lie.

Only the names of files travel to the workers and only results come back; the store stays here.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

from tonecompare.errors import InputError
from tonecompare.kept.checksums import made_with, recording_key
from tonecompare.kept.store import Store
from tonecompare.language import tr
from tonecompare.session.model import Recording, Session
from tonecompare.workers.dask_cluster import Cluster
from tonecompare.workers.in_turn import (
    LOOKED_UP_AT_ONCE,
    Instead,
    ProgressCall,
    Work,
    is_of_one,
    looked_up,
    only,
    silent,
    tell_kept,
)

_T = TypeVar("_T")


@dataclass(frozen=True)
class Answer:
    """What a worker says of one recording.

    ``key`` is what its result may be kept under; None after a change while it was measured.
    """

    worker: str
    made_with: tuple[str, ...]
    readable: bool
    key: str | None
    result: Any = None


def recordings_on_cluster(
    session: Session,
    work: Work[_T],
    *,
    scheduler: str,
    store: Store | None = None,
    instead: Instead[_T] | None = None,
    progress: ProgressCall | None = None,
) -> Iterator[_T]:
    """Yield what ``work`` makes of each recording, in their order, made by a cluster's workers.

    Parameters are those of :func:`tonecompare.workers.every_recording.every_recording`.
    """
    told = progress if progress is not None else silent
    recordings = session.recordings
    total = len(recordings)
    sent = [_sent(session, each) for each in recordings]
    ready: dict[int, _T] = {}
    with Cluster(scheduler) as cluster:
        if store is not None and not store.fresh and store.holds_any():
            looked = cluster.each(_look_up, [(*each, work) for each in sent])
            for n, (number, answer) in enumerate(looked, start=1):
                key = _checked(answer, recordings[number]).key
                found = store.get(key) if key else None
                if found is not None:
                    ready[number] = found
                if n % LOOKED_UP_AT_ONCE == 0:
                    told(0, total, looked_up(n))
        done = len(ready)
        tell_kept(told, done, total)
        missing = [number for number in range(total) if number not in ready]
        at = 0
        for place, answer in cluster.each(_make, [(*sent[number], work) for number in missing]):
            number = missing[place]
            recording = recordings[number]
            if instead is not None and _of_one(answer):
                ready[number] = instead(session, recording, answer)
            elif _checked(answer, recording).readable:
                ready[number] = answer.result
                if store is not None and answer.key:
                    store.put(answer.key, answer.result)
            else:
                _refuse_if_readable(answer, recording)
                ready[number] = work(session, recording)  # which says why
            done += 1
            told(done, total, f"{recording.stage}, {recording.voice}")
            while at in ready:
                yield ready.pop(at)
                at += 1
    while at in ready:
        yield ready.pop(at)
        at += 1


def _sent(session: Session, recording: Recording) -> tuple[Session, Recording]:
    """Return what a worker gets: its files by full paths, named in tables as they are here."""
    part = only(session, recording)
    if all(path.is_absolute() for path in recording.files):
        return part, recording
    there = replace(recording, files=tuple(path.absolute() for path in recording.files))
    stage = part.stages[recording.stage]
    return replace(
        part,
        root=part.root.absolute(),
        stages={stage.name: replace(stage, folder=stage.folder.absolute())},
        recordings=(there,),
    ), there


def _look_up(session: Session, recording: Recording, work: Work[Any]) -> Answer:
    key = recording_key(session, recording, what=work.__qualname__)
    return Answer(_here(), made_with(), key is not None, key)


def _make(session: Session, recording: Recording, work: Work[Any]) -> Answer:
    before = recording_key(session, recording, what=work.__qualname__)
    if before is None and not all(map(_can_be_read, recording.files)):
        return Answer(_here(), made_with(), False, None)
    result = work(session, recording)
    after = recording_key(session, recording, what=work.__qualname__)
    return Answer(_here(), made_with(), True, after if after == before else None, result)


def _can_be_read(path: Path) -> bool:
    try:
        with path.open("rb"):
            return True
    except OSError:
        return False


def _here() -> str:
    return socket.gethostname()


def _of_one(answer: Answer | Exception) -> bool:
    """Whether it is one recording that failed; after others none would come back whole."""
    return (
        isinstance(answer, Exception)
        and is_of_one(answer)
        and not isinstance(answer, (ImportError, AttributeError))
    )


def _checked(answer: Answer | Exception, recording: Recording) -> Answer:
    """Return an answer that can be used.

    Raises
    ------
    InputError
        The workers do not have what is here: this program and its libraries.
    """
    if isinstance(answer, (ImportError, AttributeError)):
        raise InputError(
            tr("The workers of the cluster do not have this version of tonecompare ({what}). "
               "Install it there, with the libraries in the versions that are here.", what=answer)
        ) from answer  # fmt: skip
    if isinstance(answer, Exception):
        if type(answer).__name__ == "KilledWorker":
            raise InputError(
                tr("Workers of the cluster died again and again at {file}. Give them more memory, "
                   "or leave it out. What was measured is kept.", file=recording.files[0])
            ) from answer  # fmt: skip
        raise answer
    if answer.made_with != made_with():
        other = " / ".join(
            f"{there} ({here})"
            for there, here in zip(answer.made_with, made_with(), strict=False)
            if there != here
        )
        raise InputError(
            tr("The worker on {worker} measures with other versions than this computer, and its "
               "numbers could differ: {versions}. Install the same there.",
               worker=answer.worker, versions=other)
        )  # fmt: skip
    return answer


def _refuse_if_readable(answer: Answer, recording: Recording) -> None:
    """Refuse a recording that cannot be read there but here.

    Raises
    ------
    InputError
        The workers do not see what is seen here.
    """
    lost = next((path for path in recording.files if _can_be_read(path)), None)
    if lost is None:
        return
    raise InputError(
        tr("The worker on {worker} cannot read {file}. Every worker has to see the recordings "
           "under the same path as this computer, for instance on one network drive.",
           worker=answer.worker, file=lost.absolute())
    )  # fmt: skip

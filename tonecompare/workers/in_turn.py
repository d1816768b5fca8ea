"""Every recording of a session once, several at a time, and none that was measured before."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from typing import TypeVar

from tonecompare.errors import RecordingError, TonecompareError
from tonecompare.kept.checksums import recording_key
from tonecompare.kept.store import Store
from tonecompare.language import tr
from tonecompare.session.model import Recording, Session
from tonecompare.workers.processes import processes

_T = TypeVar("_T")
#: What is made of a recording.
Work = Callable[[Session, Recording], _T]
#: What stands for a recording that cannot be read any more, or at which the work failed by a fault
#: of ours.
Instead = Callable[[Session, Recording, Exception], _T]
#: Called as ``progress(done, total, what)`` after each recording.
ProgressCall = Callable[[int, int, str], None]
#: So many recordings are looked up between two words on how far that has come.
LOOKED_UP_AT_ONCE = 50
#: Fewer recordings than this are measured in this process: starting others takes longer.
_WORTH_WORKERS = 4


def recordings_in_turn(
    session: Session,
    work: Work[_T],
    *,
    workers: int,
    store: Store | None = None,
    instead: Instead[_T] | None = None,
    progress: ProgressCall | None = None,
    meanwhile: Callable[[], object] | None = None,
) -> Iterator[_T]:
    """Yield what ``work`` makes of each recording, in their order, several at a time.

    Parameters
    ----------
    session
        What was recorded.
    work
        A function of a module, so that workers find it.
    workers
        How many processes.
    store
        Where results are kept, each as soon as it is there; None keeps none.
    instead
        What to yield where one recording failed (:func:`is_of_one`), never kept; None raises it.
    progress
        Told of what is known together, of each other recording when it is made.
    meanwhile
        Done here once others are at work, if any are.
    """
    told = progress if progress is not None else silent
    total = len(session.recordings)
    known: dict[Recording, _T] = {}
    if store is not None:
        for number, recording in enumerate(session.recordings):
            if number and number % LOOKED_UP_AT_ONCE == 0:
                told(0, total, looked_up(number))
            found = _kept(session, recording, work, store)
            if found is not None:
                known[recording] = found
    done = len(known)
    tell_kept(told, done, total)
    missing = [recording for recording in session.recordings if recording not in known]
    with closing(_made_of_all(session, missing, work, workers, store, instead, meanwhile)) as made:
        for recording in session.recordings:
            if recording in known:
                yield known.pop(recording)
                continue
            result = next(made)
            done += 1
            told(done, total, f"{recording.stage}, {recording.voice}")
            yield result


def is_of_one(error: Exception) -> bool:
    """Whether one recording failed, by its file or a fault of ours, and the others may go on."""
    return isinstance(error, RecordingError) or not isinstance(error, TonecompareError)


def silent(_done: int, _total: int, _what: str) -> None:
    """Tell nobody."""
    return


def looked_up(n: int) -> str:
    """Say how many recordings were looked up so far."""
    return tr("{n} looked up in what is kept", n=n)


def tell_kept(told: ProgressCall, done: int, total: int) -> None:
    """Tell how many are kept from earlier runs, if any; the clock starts at the second call."""
    for _ in range(2 if done else 0):
        told(done, total, tr("kept from earlier runs"))


def only(session: Session, recording: Recording) -> Session:
    """Return the session with no more in it than one recording needs.

    Each recording travels to a worker of its own with its session; whole, that of 2,000 recordings
    would be packed and sent 2,000 times.
    """
    stage = session.stages[recording.stage]
    described = session.instruments.get(stage.instrument)
    return replace(
        session,
        stages={recording.stage: stage},
        recordings=(recording,),
        instruments={} if described is None else {stage.instrument: described},
        conditions={},
        comparisons=(),
        left_out=(),
        remarks=(),
    )


def _made_of_all(
    session: Session,
    recordings: Sequence[Recording],
    work: Work[_T],
    workers: int,
    store: Store | None,
    instead: Instead[_T] | None,
    meanwhile: Callable[[], object] | None,
) -> Generator[_T, None, None]:
    if workers <= 1 or len(recordings) < _WORTH_WORKERS:
        for each in recordings:
            yield _made(session, each, work, store, instead)
        return
    with processes(min(workers, len(recordings))) as others:
        # Handed out at once: others read the recordings, and results are small.
        waiting = deque(
            others.submit(_made, only(session, each), each, work, store, instead)
            for each in recordings
        )
        if meanwhile is not None:
            meanwhile()
        while waiting:
            yield waiting.popleft().result()


def _kept(session: Session, recording: Recording, work: Work[_T], store: Store) -> _T | None:
    key = recording_key(session, recording, what=work.__qualname__)
    found: _T | None = None if key is None else store.get(key)
    return found


def _made(
    session: Session,
    recording: Recording,
    work: Work[_T],
    store: Store | None,
    instead: Instead[_T] | None,
) -> _T:
    what = work.__qualname__
    key = recording_key(session, recording, what=what) if store is not None else None
    try:
        result = work(session, recording)
    except Exception as error:
        if instead is None or not is_of_one(error):
            raise
        return instead(session, recording, error)
    # What changed while it was measured has the checksum of neither state.
    if store is not None and key and key == recording_key(session, recording, what=what):
        store.put(key, result)
    return result

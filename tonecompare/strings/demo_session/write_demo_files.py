"""Write the demo session: recordings, session.toml and a README that tells the truth about it.

Everything is drawn from fixed seeds, so the samples come out the same every time. The bytes of a
FLAC file also depend on the version of libsndfile's FLAC coder; the decoded samples do not.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from tonecompare.errors import InputError
from tonecompare.strings.demo_session.recipe import RATE_HZ, DemoRecording
from tonecompare.strings.demo_session.scenario import demo_recordings
from tonecompare.strings.demo_session.scenario_text import README, SESSION_TOML
from tonecompare.strings.recording import Rendered, render_recording

#: Called after each recording with (done, of how many, file).
Progress = Callable[[int, int, str], None]


def render_demo_recording(recording: DemoRecording) -> Rendered:
    """Render one recording of the demo (16 bit, 44.1 kHz)."""
    return render_recording(
        recording.instrument,
        recording.voice,
        recording.plucks,
        rng=np.random.default_rng(recording.seed),
        rate_hz=RATE_HZ,
        length_s=recording.length_s,
        noise=recording.noise,
        subtype="PCM_16",
    )


def write_demo(folder: Path, *, progress: Progress | None = None) -> None:
    """Write the demo session into a folder, which is created when missing.

    Files of an earlier demo are replaced, what was added to it stays.

    Parameters
    ----------
    folder
        Where ``session.toml``, ``README.md`` and the stage folders go.
    progress
        Called after each recording.

    Raises
    ------
    InputError
        When the folder holds a ``session.toml`` that is not the demo's, anything without a demo's,
        or cannot be written to.
    """
    toml = folder / "session.toml"
    recordings = tuple(demo_recordings())
    _refuse_to_overwrite(folder, ["README.md", *(recording.file for recording in recordings)])
    try:
        folder.mkdir(parents=True, exist_ok=True)
        # First of all: a demo that was stopped half way can then be written again.
        toml.write_text(SESSION_TOML, encoding="utf-8", newline="\n")
        (folder / "README.md").write_text(README, encoding="utf-8", newline="\n")
        for done, recording in enumerate(recordings, start=1):
            path = folder / recording.file
            path.parent.mkdir(exist_ok=True)
            render_demo_recording(recording).write(path)
            if progress is not None:
                progress(done, len(recordings), recording.file)
    except OSError as error:
        raise InputError(f"{folder}: the demo cannot be written: {error.strerror}.") from error


def _refuse_to_overwrite(folder: Path, names: Sequence[str]) -> None:
    """Refuse a folder with a session of its own, or with other files where the demo's would go."""
    toml = folder / "session.toml"
    if not toml.exists():
        there = next((folder / name for name in names if (folder / name).exists()), None)
        if there is not None:
            raise InputError(
                f"{there}: exists already and is not of a demo. Give a new folder for the demo."
            )
        if folder.is_dir() and any(not each.name.startswith(".") for each in folder.iterdir()):
            raise InputError(
                f"{folder}: holds other things, which the demo would make part of its session. "
                "Give a new folder for the demo."
            )
    elif not toml.is_file() or toml.read_text("utf-8", "replace") != SESSION_TOML:
        raise InputError(
            f"{toml}: there is another session in this folder. Give a new folder for the demo."
        )

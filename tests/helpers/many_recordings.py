"""A session of many small recordings, as a shop that works on some hundred guitars holds them.

    python tests/helpers/many_recordings.py FOLDER [RECORDINGS]

Eight recordings to a guitar: four voices before and after work that halved the level of two of
them. A few takes of :mod:`small_takes` are rendered; every recording is one of them at a level of
its own in hiss of its own, so that no two files are alike.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
from small_takes import RATE_HZ, take, write

#: Voice by slope of its partials, and by how much the work changed its level, in dB.
VOICES = {
    "neck": (1.2, -6.0),
    "middle": (1.0, 0.0),
    "bridge": (0.8, -6.0),
    "bridge-split": (0.9, 0),
}
_RENDERS = 4
_GUITAR = '[instruments."guitar {number:04d}"]\nscale_length_mm = 648\n'
_STAGE = '[stages."{name}"]\ninstrument = "guitar {number:04d}"\ndate = {date}\n'
_WORK = 'from = "{before}"\nwork = [{{what = "Pickups rewound", parts_cost = 60, hours = 2}}]\n'


def write_many(folder: Path, recordings: int = 2000, *, repeats: int = 2) -> int:
    """Write a session of about so many recordings, rounded up to whole guitars; return how many."""
    random = np.random.default_rng(7)
    renders = {
        voice: [take(slope=slope, repeats=repeats, hiss=0.0, seed=n) for n in range(_RENDERS)]
        for voice, (slope, _) in VOICES.items()
    }
    guitars = -(-recordings // (2 * len(VOICES)))
    told = [f'title = "{recordings} recordings"\n']
    for number in range(guitars):
        before, after = f"{number:04d}-before", f"{number:04d}-after"
        told.append(_GUITAR.format(number=number))
        told.append(_STAGE.format(name=before, number=number, date="2026-03-02"))
        told.append(_STAGE.format(name=after, number=number, date="2026-05-04"))
        told.append(_WORK.format(before=before))
        for stage in (before, after):
            for voice, (_, moved_db) in VOICES.items():
                level_db = random.normal(0.0, 0.5) + (moved_db if stage == after else 0.0)
                samples = renders[voice][random.integers(_RENDERS)] * 10 ** (level_db / 20)
                hiss = 1e-4 * random.standard_normal(samples.size)
                write(folder / stage / f"{voice}.wav", samples + hiss, subtype="PCM_16")
    (folder / "session.toml").write_text("\n".join(told), encoding="utf-8")
    return 2 * len(VOICES) * guitars


if __name__ == "__main__":
    many = write_many(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 2000)
    print(f"{many} recordings at {RATE_HZ} Hz in {sys.argv[1]}")

"""How well plucks are found, placed and named on rendered takes: prints a table.

Run ``python tests/accuracy/plucks_grid.py`` (about a minute); tests/takes/test_plucks_found.py
holds a smaller grid to the bars. Rows: hiss 60, 45 and 30 dB under the plucks' median level, at
44.1, 48 and 96 kHz, frets 0, 5 and 12 of all strings, pick and pickup position at random, strings
damped between or left to ring. Error: against the time at which the noiseless signal first passes
1 % of its first peak.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

from takes_truth import Compared, pluck, rendered_take

from tonecompare import strings as st

POSITIONS = [(string, fret) for fret in (0, 5, 12) for string in range(6, 0, -1)]


def take(folder: Path, *, seed: int, rate_hz: float, snr_db: float, damped: bool) -> Compared:
    rng = np.random.default_rng(seed)
    coil = st.single_coil(float(rng.uniform(40.0, 165.0)))
    voice = st.VoiceSpec("voice", (st.Channel("magnetic", coil),))
    plucks = [
        pluck(
            1.2 + 1.2 * i,
            *POSITIONS[j],
            position_mm=float(rng.uniform(50.0, 180.0)),
            damp_s=0.9 if damped else None,
        )
        for i, j in enumerate(rng.permutation(len(POSITIONS)))
    ]

    def render(hiss_dbfs: float) -> Compared:
        noise = st.NoiseSpec(mains_hz=50.02, line_dbfs=(-60, -75, -68), hiss_dbfs=hiss_dbfs)
        return rendered_take(folder, plucks, seed=seed, voice=voice, noise=noise, rate_hz=rate_hz)

    levels = [p.outputs[0].level_dbfs for p in render(-100.0).rendered.truth.plucks]
    return render(float(np.median(levels)) - snr_db)


def main() -> None:
    print("rate_hz snr_db strings  plucks missed extra wrong_note  mean_ms  sd_ms p95_ms max_ms")
    with tempfile.TemporaryDirectory() as folder:
        for rate_hz in (44100.0, 48000.0, 96000.0):
            for snr_db in (60.0, 45.0, 30.0):
                for damped in (True, False):
                    takes = [
                        take(Path(folder), seed=s, rate_hz=rate_hz, snr_db=snr_db, damped=damped)
                        for s in (1, 2)
                    ]
                    rows = [row for got in takes for row in got.rows]
                    found = [row for row in rows if row.found]
                    error_ms = 1e3 * np.array([row.errors_s()[0] for row in found])
                    wrong = sum(row.found.note != row.true.note for row in found if row.found)
                    print(
                        f"{rate_hz:7.0f} {snr_db:6.0f} {'damped' if damped else 'ring':>7} "
                        f"{len(rows):7d} {len(rows) - len(found):6d} "
                        f"{sum(len(got.extra) for got in takes):5d} {wrong:10d} "
                        f"{error_ms.mean():8.3f} {error_ms.std():6.3f} "
                        f"{np.percentile(np.abs(error_ms), 95):6.3f} {np.abs(error_ms).max():6.3f}"
                    )


if __name__ == "__main__":
    main()

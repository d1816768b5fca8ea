"""How fast: our takes and measures, a straightforward librosa script, and essentia, in one run.

    python tests/benchmarks/speed.py [--repeats N]

One core; the same synthetic recording (100 s, 48 kHz, 24 plucks) for all; medians.
"""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse  # noqa: E402
import statistics  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
import time  # noqa: E402
from collections.abc import Callable  # noqa: E402
from pathlib import Path  # noqa: E402

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import speed_parts as parts  # noqa: E402

#: Aims: the measuring path in times real time; ratios against the others.
AIM_REAL_TIME, AIM_LIBROSA, AIM_ESSENTIA = 150.0, 40.0, 1.0


def median_s(work: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Return the median wall time and the median processor time of some runs after a first one."""
    work()
    wall, processor = [], []
    for _ in range(repeats):
        start, start_cpu = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - start)
        processor.append(time.process_time() - start_cpu)
    return statistics.median(wall), statistics.median(processor)


def main() -> None:
    """Time everything and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--repeats", type=int, default=5)
    repeats = parser.parse_args().repeats
    with tempfile.TemporaryDirectory() as folder:
        path = parts.recording(Path(folder))
        take = parts.our_takes(path)
        samples = take.audio.samples[0]
        times = {
            "takes (read, cut, name)": median_s(lambda: parts.our_takes(path), repeats),
            "measure (the measuring path)": median_s(lambda: parts.our_measures(take), repeats),
            "takes and measure": median_s(
                lambda: parts.our_measures(parts.our_takes(path)), repeats),
            "librosa script": median_s(lambda: parts.librosa_script(samples), max(1, repeats // 3)),
        }  # fmt: skip
        essentia = parts.essentia_features()
        if essentia is not None:
            times["essentia, frame-wise"] = median_s(lambda: essentia(samples), repeats)
    print(f"{parts.LENGTH_S:.0f} s, {len(take.plucks)} plucks, medians of {repeats}, one core")
    print(f"{'':30}{'wall s':>9}{'cpu s':>9}{'x real time (cpu)':>19}")
    for name, (wall, processor) in times.items():
        print(f"{name:30}{wall:9.3f}{processor:9.3f}{parts.LENGTH_S / processor:19.0f}")
    ours = times["measure (the measuring path)"][1]
    whole = times["takes and measure"][1]
    print(f"measure: {parts.LENGTH_S / ours:.0f} times real time (aim {AIM_REAL_TIME:.0f})")
    script = times["librosa script"][1]
    print(f"librosa script over ours: {script / whole:.1f} with takes, {script / ours:.1f} measure"
          f" alone (aim {AIM_LIBROSA:.0f})")  # fmt: skip
    if essentia is None:
        print("essentia is not installed: left out (pip install essentia to compare)")
    else:
        other = times["essentia, frame-wise"][1]
        print(f"essentia over ours: {other / whole:.2f} with takes, {other / ours:.2f} measure "
              f"alone (aim {AIM_ESSENTIA:.0f})")  # fmt: skip


if __name__ == "__main__":
    main()

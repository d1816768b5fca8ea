"""How fast: ours, a straightforward librosa script, essentia and the floor, in one run.

    python tests/benchmarks/speed.py [--repeats N]

One core; the same synthetic recording (100 s, 48 kHz, 24 plucks) for all, each reading it from its
file; the best of several runs, since what else runs on the machine only ever adds. What the plain
script and the floor do stands in ``tests/helpers/speed_parts.py``.
"""

from __future__ import annotations

import os

for _name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[_name] = "1"

import argparse  # noqa: E402
import sys  # noqa: E402
import tempfile  # noqa: E402
import time  # noqa: E402
from collections.abc import Callable  # noqa: E402
from pathlib import Path  # noqa: E402

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "helpers"))

import speed_parts as parts  # noqa: E402

#: Aims: times real time; how long the others take of our time; our time of the floor's.
AIM_REAL_TIME, AIM_LIBROSA, AIM_ESSENTIA, AIM_FLOOR = 150.0, 40.0, 1.0, 6.0
#: The floor has the frames and the precision of the plain script; the other is the least of all.
WHOLE, FLOOR, LEAST = "all of ours", "decode, one FFT pass", "the same, coarsest frames"
SCRIPT, FEATURES = "plain librosa script", "essentia, frame by frame"


def least_s(work: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Return the least wall time and the least processor time of some runs after a first one."""
    work()
    wall, processor = [], []
    for _ in range(repeats):
        start, start_cpu = time.perf_counter(), time.process_time()
        work()
        wall.append(time.perf_counter() - start)
        processor.append(time.process_time() - start_cpu)
    return min(wall), min(processor)


def main() -> None:
    """Time everything and print the ratios."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--repeats", type=int, default=5)
    repeats = parser.parse_args().repeats
    with tempfile.TemporaryDirectory() as folder:
        path = parts.recording(Path(folder))
        take = parts.our_takes(path)
        times = {
            "takes (read, cut, name)": least_s(lambda: parts.our_takes(path), repeats),
            "measure alone": least_s(lambda: parts.our_measures(take), repeats),
            WHOLE: least_s(lambda: parts.our_measures(parts.our_takes(path)), repeats),
            FLOOR: least_s(
                lambda: parts.floor(path, frame=2048, hop=512, precision="float64"), repeats),
            LEAST: least_s(
                lambda: parts.floor(path, frame=4096, hop=2048, precision="float32"), repeats),
            SCRIPT: least_s(lambda: parts.librosa_script(path), max(1, repeats // 3)),
        }  # fmt: skip
        essentia = parts.essentia_features()
        if essentia is not None:
            times[FEATURES] = least_s(lambda: essentia(path), repeats)
    print(f"{parts.LENGTH_S:.0f} s, {len(take.plucks)} plucks, best of {repeats}, one core")
    print(f"{'':36}{'wall s':>9}{'cpu s':>9}{'x real time (cpu)':>19}")
    for name, (wall, processor) in times.items():
        print(f"{name:36}{wall:9.3f}{processor:9.3f}{parts.LENGTH_S / processor:19.0f}")
    cpu = {name: processor for name, (_, processor) in times.items()}
    print(f"\nall of ours runs {parts.LENGTH_S / cpu[WHOLE]:.0f} times as fast as it sounds "
          f"(aim {AIM_REAL_TIME:.0f})")  # fmt: skip
    print(f"{SCRIPT} takes {cpu[SCRIPT] / cpu[WHOLE]:.1f} times as long (aim {AIM_LIBROSA:.0f})")
    for name in (FLOOR, LEAST):
        print(f"all of ours takes {cpu[WHOLE] / cpu[name]:.1f} times as long as: {name} "
              f"(aim at most {AIM_FLOOR:.0f})")  # fmt: skip
    if essentia is None:
        print("essentia is not installed: left out (pip install essentia to compare)")
    else:
        print(f"{FEATURES} takes {cpu[FEATURES] / cpu[WHOLE]:.2f} times as long "
              f"(aim {AIM_ESSENTIA:.0f})")  # fmt: skip


if __name__ == "__main__":
    main()

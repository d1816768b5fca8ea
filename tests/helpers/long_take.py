"""Write a long stereo take block by block, and say how much memory measuring one takes.

``python tests/helpers/long_take.py FILE MINUTES [RATE]`` writes; ``… --measure FILE`` measures in
this process and prints the size of the file, the highest memory in use and the time, MiB and s.
"""

from __future__ import annotations

import re
import resource
import sys
import time
from pathlib import Path

import numpy as np
import soundfile as sf
from small_takes import take


def write_long(path: Path, minutes: float, rate_hz: int) -> None:
    """Write a quiet and six plucks, 11.6 s, over and over, the second channel a little later."""
    once = take(rate_hz=rate_hz)
    pair = np.stack([once, 0.7 * np.roll(once, 3) + 1e-5 * np.sin(np.arange(once.size))], axis=1)
    with sf.SoundFile(path, "w", rate_hz, 2, subtype="PCM_24") as file:
        for _ in range(max(1, round(60.0 * minutes * rate_hz / len(pair)))):
            file.write(pair)


def most_mib() -> float:
    """Return the most memory this process has held, MiB.

    On Linux getrusage tells of whatever process started this one, too, if that held more; the
    high-water mark in ``/proc`` is this program's own.
    """
    status = Path("/proc/self/status")
    if status.exists():
        (peak,) = re.findall(r"^VmHWM:\s+(\d+) kB$", status.read_text(encoding="utf-8"), re.M)
        return int(peak) / 2**10
    kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return kib / (2**20 if sys.platform == "darwin" else 2**10)


def measure(path: Path) -> None:
    """Measure a file and print its size, the memory it took, the time and how many plucks."""
    from tonecompare.front.run import session_of_files
    from tonecompare.measure import measure_session

    began = time.process_time()
    measured = measure_session(session_of_files([path]))
    size = path.stat().st_size / 2**20
    plucks, left_out = len(measured.plucks), len(measured.left_out)
    print(f"{size:.1f} {most_mib():.1f} {time.process_time() - began:.1f} {plucks} {left_out}")


if __name__ == "__main__":
    if sys.argv[1] == "--measure":
        measure(Path(sys.argv[2]))
    else:
        rate_hz = int(sys.argv[3]) if len(sys.argv) > 3 else 96_000
        write_long(Path(sys.argv[1]), float(sys.argv[2]), rate_hz)

"""Signs that a take is not the dry signal: compression, a gate, an amplifier model.

What can be told, and what cannot:

- Strings only add to the hiss. A hiss that is *lower* while a string is loud than in the quiet was
  turned down by something that follows the level. This shows gentle and slow compressors too, from
  about 3 dB of reduction on.
- A sum of dying exponentials dies fastest at first: log E(t) is convex, so that the early decay
  time (0 to -10 dB) is not longer than the later one (-5 to -25 dB). Beats of two polarisations
  break this for single plucks, not for most plucks of a voice. A compressor holds the beginning
  down and lets the end up, which lengthens the early decay against the rest. A fade does the same,
  so that notes that may have been faded do not speak here.
- What was tried and left: louder plucks that die more slowly at first than softer ones of their
  note. Compressors do this, but so did one of ten clean real voices, and plucks as even as they
  ought to be hardly show it.
- Distortion cannot be told from a bright pickup by these takes alone, and a compressor leaves no
  mark where it reduces by 2 dB or less, or where the hiss is hidden (gated, or drowned by bright
  strings that never stop): silence here is no proof of a dry signal.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from tonecompare.compare.check.check_results import Checked, Fault, fault_of
from tonecompare.compare.check.stages.gain_moved import gain_turned
from tonecompare.measure.inspected_takes import Inspected

#: Hiss lower by this under half of the plucks is turned down. A mean over the band spreads by
#: 0.15 dB and the lowest of a hundred of them, along a long ring, lies 0.4 dB below the middle.
TURNED_DOWN_DB = 1.0
TURNED_DOWN_SHARE = 0.5
#: Early over later decay time of most plucks.
HELD_RATIO = 1.2
#: Fewer plucks cannot speak for a voice.
LEAST_PLUCKS = 4
#: Share of plucks that must show the sign.
MOST = 0.75


def processing_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the voices that look processed, one fault each, on the first file that shows it."""
    for stage in checked.stages():
        for voice in checked.voices(stage):
            files = checked.of(stage, voice)
            lower_db, held = _turned_down(checked, files), _held(checked, files)
            if lower_db is None and held is None:
                continue
            both = lower_db is not None and held is not None
            # Data: by how many dB the hiss is lower while strings ring, and early over later decay
            # time; None for a sign that is not there.
            yield fault_of(files[0], "processing", "again" if both else "doubt", (lower_db, held))


def _turned_down(checked: Checked, files: tuple[Inspected, ...]) -> float | None:
    if any(file.quiets and gain_turned(checked, file) for file in files):
        return None  # somebody's hand on the gain turns the hiss down as well
    ratios = np.array([r for file in files for r in file.hiss_under_plucks_db], dtype=float)
    ratios = ratios[np.isfinite(ratios)]
    if len(ratios) >= LEAST_PLUCKS and np.mean(ratios < -TURNED_DOWN_DB) > TURNED_DOWN_SHARE:
        return -float(np.median(ratios))
    return None


def _held(checked: Checked, files: tuple[Inspected, ...]) -> float | None:
    # A note that goes to the end of its file, or of a file without quiet, may have been faded out:
    # that bends a decay as a compressor does.
    whole = {
        (file.file, pluck.number)
        for file in files
        for pluck in file.plucks
        if file.quiets and pluck.ended_by != "file-end" and "faded" not in pluck.flags
    }
    named = zip(checked.plucks["file"], checked.plucks["pluck"], strict=True)
    rows = checked.plucks[np.array([key in whole for key in named], dtype=bool)]
    early, later = rows["decay_early_s"].to_numpy(float), rows["decay_s"].to_numpy(float)
    ratio = early / later
    good = np.isfinite(ratio)
    notes = rows.loc[good, "note"].nunique()
    if good.sum() >= LEAST_PLUCKS and notes >= 2 and np.mean(ratio[good] > HELD_RATIO) >= MOST:
        return float(np.median(ratio[good]))
    return None

"""Two-channel files whose channels carry each other's output."""

from __future__ import annotations

from collections.abc import Iterator

from tonecompare.compare.bench.exchanged_channels import outputs_swapped
from tonecompare.compare.check.check_results import Checked, Fault


def channel_faults(checked: Checked) -> Iterator[Fault]:
    """Yield the voices whose magnetic and piezo channels are exchanged."""
    plucks = checked.plucks
    if plucks.empty:
        return
    for stage in checked.stages():
        tuning = checked.session.instrument_of(stage).tuning
        for voice in checked.voices(stage):
            of = plucks[(plucks["stage"] == stage) & (plucks["voice"] == voice)]
            if outputs_swapped(of, tuning):
                yield Fault("outputs exchanged", "doubt", stage, voice, "", None)

"""How level and brightness of a passage run in time, all passages of one music on one time axis."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from tonecompare.measure.model import PhraseCurve
from tonecompare.measure.played.passage_frames import HOP_S, PassageFrames
from tonecompare.measure.played.same_music import (
    SAME_NOTES,
    Alignment,
    align,
    cells_of,
    start_offset_s,
)
from tonecompare.measure.table import MeasuredSubject
from tonecompare.units import mean_square_to_dbfs

#: A frame is shown where the whole stands over the quiet by this factor of power.
_OVER_QUIET = 2.0


def phrase_curves(
    subjects: Sequence[MeasuredSubject], frames: Mapping[tuple[str, int, int], PassageFrames]
) -> dict[tuple[str, int, int], PhraseCurve]:
    """Lay every passage of one music on the time axis of the first of them.

    Parameters
    ----------
    subjects
        Everything measured, passages named by their music.
    frames
        The passages, by file, channel and number.
    """
    models: dict[str, PassageFrames] = {}
    paths: dict[tuple[str, int], Alignment] = {}
    curves = {}
    for subject in subjects:
        of = subject.subject
        if of.kind != "plucks" or of.channel is None or of.pluck is None:
            continue
        key = (of.file, of.channel, of.pluck)
        if key not in frames:
            continue
        model = models.setdefault(of.note, frames[key])
        played = (of.file, of.pluck)
        if played not in paths:  # both channels were played by one hand
            paths[played] = align(model, frames[key])
        curves[key] = phrase_curve(model, frames[key], paths[played])
    return curves


def phrase_curve(first: PassageFrames, second: PassageFrames, alignment: Alignment) -> PhraseCurve:
    """Read the second passage along the path that lays it over the first.

    Where several of its frames meet one of the first, their powers are averaged.
    """
    count = first.chroma.shape[1]
    power, moment, magnitude, own_s = (np.full(count, np.nan) for _ in range(4))
    noise = float(second.noise.sum())
    alike = np.zeros(count, dtype=bool)
    for (start, stop), agreement in zip(cells_of(first), alignment.agreement, strict=True):
        alike[start:stop] = agreement > SAME_NOTES
    order = np.argsort(alignment.frames[:, 0], kind="stable")
    here, there = alignment.frames[order].T
    places, begins = np.unique(here, return_index=True)
    for place, together in zip(places, np.split(there, begins[1:]), strict=True):
        own_s[place] = HOP_S * float(together.mean())
        whole = float(second.power[:, together].sum(axis=0).mean())
        if alike[place] and whole > _OVER_QUIET * noise:
            power[place] = whole
            moment[place] = second.moment[together].mean()
            magnitude[place] = second.magnitude[together].mean()
    return PhraseCurve(
        time_s=HOP_S * np.arange(count, dtype=np.float64),
        level_dbfs=np.asarray(mean_square_to_dbfs(power)),
        centroid_hz=np.where(magnitude > 0.0, moment / np.where(magnitude > 0.0, magnitude, 1.0),
                             np.nan),
        events_s=first.events_s,
        own_s=own_s,
        offset_s=start_offset_s(first, second, alignment),
    )  # fmt: skip

"""The response of the change and what an equaliser could have done, as the page shows them."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.io import wavfile

from tonecompare.compare.model import Equaliser, EqualiserBand, Response
from tonecompare.report.charts.chart_data import VoiceOutput
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.charts.response import response_chart
from tonecompare.report.words.names import slug
from tonecompare.report.words.numbers import count, is_number, number, with_unit


@dataclass(frozen=True)
class EqualiserView:
    """A few-band correction in words."""

    sentence: str
    #: The correction as an impulse response, relative to the report folder; "" without one.
    href: str
    bands: tuple[tuple[str, str, str, str], ...]


_KINDS = {
    "peak": "bell",
    "low-shelf": "low shelf",
    "high-shelf": "high shelf",
    "lowshelf": "low shelf",
    "highshelf": "high shelf",
}


def response_pictures(
    album: Album,
    responses: Sequence[Response],
    voice: VoiceOutput,
    comparison: str,
    *,
    title: str,
    name: str,
) -> tuple[Picture, ...]:
    """Draw the response of the change of one voice, if it was worked out."""
    return tuple(
        album.add(
            f"{name}-response",
            lambda response=response: response_chart(response, title=title),  # type: ignore[misc]
            alt=f"Response: by how many dB {title} differs over frequency.",
            caption="By how much the sound differs over frequency, worked out from the "
            f"partials of {count(response.n_notes, 'note')}; picking and position taken out. "
            "Band: 95 % interval.",
            texts=(title,),
        )
        for response in responses
        if response.comparison == comparison and (response.voice, response.output) == voice
    )


def equaliser_views(
    album: Album, equalisers: Sequence[Equaliser], voice: VoiceOutput, comparison: str, *, name: str
) -> tuple[EqualiserView, ...]:
    """Say what an equaliser could have done instead for one voice, and file its response."""
    return tuple(
        EqualiserView(_sentence(one), _filed(album, one, name), tuple(map(_band, one.bands)))
        for one in equalisers
        if one.comparison == comparison and (one.voice, one.output) == voice
    )


def _filed(album: Album, one: Equaliser, name: str) -> str:
    """File the impulse response as 32-bit float WAV (no date inside) and return its address."""
    if not np.any(one.impulse_response):
        return ""
    href = f"equalisers/{slug(name, longest=120)}.wav"
    data = io.BytesIO()
    wavfile.write(data, round(one.rate_hz), one.impulse_response.astype(np.float32))
    album.files[href] = data.getvalue()
    return href


def _sentence(one: Equaliser) -> str:
    gain = with_unit(one.overall_gain_db, "dB", signed=True)
    tool = f"{count(len(one.bands), 'band')} and {gain} overall" if one.bands else f"{gain} alone"
    control = "a tone control of this kind" if one.bands else "the volume control"
    if not (is_number(one.rms_left_db) and is_number(one.rms_before_db)):
        return f"{tool}; what it would leave could not be worked out."
    left, before = with_unit(one.rms_left_db, "dB"), with_unit(one.rms_before_db, "dB")
    said = f"{tool} would leave {left} of the {before} (RMS over frequency) by which the two differ"
    if not is_number(one.share):
        return said + "."
    percent = number(100.0 * max(one.share, 0.0), 0)
    return f"{said}: {control} would have given {percent} % of the difference in spectrum."


def _band(band: EqualiserBand) -> tuple[str, str, str, str]:
    return (
        _KINDS.get(band.kind, band.kind),
        with_unit(band.frequency_hz, "Hz"),
        with_unit(band.gain_db, "dB", signed=True),
        number(band.q, 2),
    )

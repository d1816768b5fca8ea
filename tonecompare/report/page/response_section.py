"""The response of the change and what an equaliser could have done, as the page shows them."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.io import wavfile

from tonecompare.compare.model import Equaliser, EqualiserBand, Response
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.report.charts.chart_data import VoiceOutput
from tonecompare.report.charts.draw_all import Album, Picture
from tonecompare.report.charts.response import response_chart
from tonecompare.report.words.names import slug
from tonecompare.report.words.numbers import is_number, number, with_unit


@dataclass(frozen=True)
class EqualiserView:
    """A few-band correction in words."""

    sentence: str
    #: The correction as an impulse response, relative to the report folder; "" without one.
    href: str
    bands: tuple[tuple[str, str, str, str], ...]


_KINDS = {
    "peak": tr_later("bell"),
    "low-shelf": tr_later("low shelf"),
    "high-shelf": tr_later("high shelf"),
    "lowshelf": tr_later("low shelf"),
    "highshelf": tr_later("high shelf"),
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
            alt=tr("Response: by how many dB {title} differs over frequency.", title=title),
            caption=tr_n(
                "By how much the sound differs over frequency, worked out from the partials of "
                "{n} note; picking and position taken out. Band: 95 % interval.",
                "By how much the sound differs over frequency, worked out from the partials of "
                "{n} notes; picking and position taken out. Band: 95 % interval.",
                response.n_notes,
            ),
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
    bands = tr_n("{n} band", "{n} bands", len(one.bands))
    tool = tr("{bands} and {gain} overall", bands=bands, gain=gain)
    if not one.bands:
        tool = tr("{gain} alone", gain=gain)
    if not (is_number(one.rms_left_db) and is_number(one.rms_before_db)):
        return tr("{tool}; what it would leave could not be worked out.", tool=tool)
    said = tr(
        "{tool} would leave {left} of the {before} (RMS over frequency) by which the two differ",
        tool=tool,
        left=with_unit(one.rms_left_db, "dB"),
        before=with_unit(one.rms_before_db, "dB"),
    )
    if not is_number(one.share):
        return said + "."
    percent = number(100.0 * max(one.share, 0.0), 0)
    given = (
        tr(
            "a tone control of this kind would have given {percent} % of the difference in "
            "spectrum.",
            percent=percent,
        )
        if one.bands
        else tr(
            "the volume control would have given {percent} % of the difference in spectrum.",
            percent=percent,
        )
    )
    return f"{said}: {given}"


def _band(band: EqualiserBand) -> tuple[str, str, str, str]:
    return (
        tr(_KINDS.get(band.kind, band.kind)),
        with_unit(band.frequency_hz, "Hz"),
        with_unit(band.gain_db, "dB", signed=True),
        number(band.q, 2),
    )

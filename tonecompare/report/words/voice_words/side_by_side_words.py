"""Sentences on the voices of one stage: loudest, farthest, nearest, hum, coils, piezo."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from tonecompare.compare.model import BenchSign
from tonecompare.compare.side_by_side import SoundDifference, StageVoices, VoicePair, VoiceSound
from tonecompare.quantities.octave_bands import BAND_SHAPES, BANDS
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import count, listed, magnitude, number, signed_parts

#: What else may be in a difference between two voices, and where it must not be soldered on.
NEEDS_ONE_GAIN = (
    "Differences are as recorded: a gain turned or a hand that picked otherwise between two voices "
    "is in them. Hum and signal to hum compare only for one place, one direction and one gain; "
    "with hum in question, unplug before a cavity is opened or a joint soldered."
)
_BAND_WORDS = {name: band.words for name, band in zip(BAND_SHAPES, BANDS, strict=True)}
#: Kept on one line.
_MISMATCH = "20 lg(|a − b|/(a + b))".replace(" ", "\N{NO-BREAK SPACE}")
#: Bands told of a pair.
_BANDS_TOLD = 2


def sound_titles(voices: StageVoices) -> dict[VoiceSound, str]:
    """Return what each sound of a stage is called; the output is named where a voice has two."""
    outputs: dict[str, int] = {}
    for one in voices.sounds:
        outputs[one.voice] = outputs.get(one.voice, 0) + 1
    return {
        one: voice_title(one.voice, output=one.output, several_outputs=outputs[one.voice] > 1)
        for one in voices.sounds
    }


def chart_title(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> str:
    """Return the finding that the chart of all voices shows, in a few words."""
    cells = {pair.sound: pair.cells["level_dbfs"] for pair in voices.against_loudest}
    sure = {one: cell for one, cell in cells.items() if cell.sure and cell.difference is not None}
    if not sure:
        return f"No voice surely softer than {titles[voices.loudest]}"
    softest = min(sure, key=lambda one: sure[one].difference or 0.0)
    size, _ = _size(sure[softest])
    return f"{titles[softest]}: {size} softer than {titles[voices.loudest]}"


def stage_sentences(
    voices: StageVoices, titles: Mapping[VoiceSound, str], bench: Iterable[BenchSign] = ()
) -> tuple[str, ...]:
    """Return what the voices of a stage show, the most asked first.

    Parameters
    ----------
    voices
        Side by side.
    titles
        What each sound is called.
    bench
        Signs at the bench: the coils' mismatch stands among them.
    """
    return (
        _loudest(voices, titles),
        *_farthest(voices, titles),
        *_nearest(voices, titles),
        *_hum(voices, titles),
        *_coils(voices, titles, bench),
        *_one_piezo(voices),
    )


def _loudest(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> str:
    cells = {pair.sound: pair.cells["level_dbfs"] for pair in voices.against_loudest}
    known = {one: cell for one, cell in cells.items() if cell.difference is not None}
    softer = {one: cell for one, cell in known.items() if cell.sure}
    open_ = [titles[one] for one in known if one not in softer]
    loudest = titles[voices.loudest]
    if not softer:
        return f"{loudest} measures loudest, and no voice is shown to be softer."
    softest = min(softer, key=lambda one: softer[one].difference or 0.0)
    size, ends = _size(softer[softest])
    said = f"{loudest} is the loudest and {titles[softest]} the softest, {size} below it ({ends})"
    if open_:
        said += f"; whether {listed(open_)} {'is' if len(open_) == 1 else 'are'} softer is open"
    return f"{said}."


def _farthest(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[str]:
    pair = voices.farthest
    if pair is None or pair.distance is None:
        yield "No two voices are shown to differ by more than one hearing threshold."
        return
    far = pair.distance
    yield (
        f"Farthest apart stand {titles[pair.sound]} and {titles[pair.against]}: "
        f"{_thresholds(far.value)} {_where(far.quantity)}, {number(far.ci_low, 1)} at least."
    )


def _nearest(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[str]:
    if not voices.nearest:
        return
    if not voices.nearest[0].alike:
        (pair,) = voices.nearest[:1]
        near = pair.distance
        if near is None or len(voices.sounds) < 3:
            return
        upto = (
            f"these takes leave open whether it is up to {number(near.ci_high, 1)}"
            if near.bounded
            else "how far at most, these takes do not show"
        )
        yield (
            f"No two voices are shown to sound alike. Nearest are {titles[pair.sound]} and "
            f"{titles[pair.against]}, {_thresholds(near.value)} apart {_where(near.quantity)}; "
            f"{upto}."
        )
        return
    told = [f"{titles[pair.sound]} and {titles[pair.against]}" for pair in voices.nearest]
    yield (
        f"{'; '.join(told)} can hardly be told apart: level, every band"
        f"{' and decay' if _has_decay(voices.nearest) else ''} differ by less than a hearing "
        f"threshold{_but_hum(voices.nearest)}."
    )


def _has_decay(pairs: Iterable[VoicePair]) -> bool:
    return all(pair.cells["decay_s"].difference is not None for pair in pairs)


def _but_hum(pairs: Iterable[VoicePair]) -> str:
    """Say that voices alike in sound hum unlike."""
    for pair in pairs:
        hum = pair.cells["hum_dbfs"]
        if hum.sure and hum.difference is not None and abs(hum.difference) > 1.0:
            size, _ = _size(hum)
            return f"; their hum differs by {size}"
    return ""


def _hum(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[str]:
    """Say which voices hum most and, where not the loudest does, which least."""
    cells = {pair.sound: pair.cells["hum_dbfs"] for pair in voices.against_loudest}
    values = {one: c.difference for one, c in cells.items() if c.difference is not None and c.sure}
    loudest = titles[voices.loudest]
    parts = []
    for sign, most, where in ((1.0, "most", "above"), (-1.0, "least", "below")):
        there = {one: sign * value for one, value in values.items() if sign * value > 0.0}
        if not there:
            continue
        top = max(there.values())
        # Within a hearing threshold of the first one, no order is told.
        first = sorted((o for o in there if there[o] > top - 1.0), key=lambda o: -there[o])
        if len(first) == 1:
            size, ends = _size(cells[first[0]])
            parts.append(f"{titles[first[0]]} hums {most}, {size} {where} {loudest} ({ends})")
            continue
        low, high = number(there[first[-1]], 1), number(top, 1)
        span = high if low == high else f"{low} to {high}"
        names = listed([titles[one] for one in first])
        parts.append(f"{names} hum {most}, {span} dB {where} {loudest}")
    if parts:
        yield f"{'; '.join(parts)}."


def _coils(
    voices: StageVoices, titles: Mapping[VoiceSound, str], bench: Iterable[BenchSign]
) -> Iterable[str]:
    """Say how unlike the coils are that the hum left implies, and what that leaves."""
    told, left = [], []
    for sign in bench:
        if sign.kind != "coil-mismatch" or sign.stage != voices.stage or not sign.value:
            continue
        full = titles.get(VoiceSound(sign.voice, sign.output), voice_title(sign.voice))
        digits = 0 if sign.value >= 10 else 1
        size = number(sign.value, digits)
        if sign.uncertainty is not None:
            # A rounded ± 0.0 would claim to be exact.
            size += f" ± {number(max(sign.uncertainty, 10.0**-digits), digits)}"
        told.append(f"of {full} by {size} %")
        left.append(number(20.0 * math.log10(sign.value / 200.0), 0))
    if told:
        yield (
            f"The hum left against the split implies coils that differ, {listed(told)}, if all "
            f"hum comes in by the coils. Common practice: a mismatched pair leaves {_MISMATCH}, "
            f"here {listed(left)} dB re the hum of both coils added."
        )


def _one_piezo(voices: StageVoices) -> Iterable[str]:
    if voices.piezo_from:
        yield (
            f"Several takes carry a piezo beside their magnetic voice; it stands here once, from "
            f"the take of {voice_title(voices.piezo_from)}."
        )


def tone_told(cells: Mapping[str, SoundDifference]) -> str:
    """Return the bands that surely differ, the largest first, two at most."""
    sure = [cells[name] for name in BAND_SHAPES if cells[name].sure and not cells[name].weak]
    sure.sort(key=lambda cell: -abs(cell.difference or 0.0))
    told = [
        f"{_BAND_WORDS[cell.quantity]} "
        f"{signed_parts(cell.difference or 0.0, cell.ci_low, cell.ci_high, cell.unit)[0]}"
        for cell in sure[:_BANDS_TOLD]
    ]
    rest = len(sure) - len(told)
    return ", ".join(told) + (f", {count(rest, 'more band')}" if rest else "")


def _thresholds(value: float) -> str:
    said = number(value, 1)
    return f"{said} hearing {'threshold' if said == '1.0' else 'thresholds'}"


def _where(quantity: str) -> str:
    return f"in the {_BAND_WORDS[quantity]}" if quantity in _BAND_WORDS else "in level"


def _size(cell: SoundDifference) -> tuple[str, str]:
    return magnitude(cell.difference or 0.0, cell.ci_low, cell.ci_high, cell.unit)

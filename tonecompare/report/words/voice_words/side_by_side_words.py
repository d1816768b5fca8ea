"""Sentences on the voices of one stage: loudest, farthest, nearest, hum, coils, piezo."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from tonecompare.compare.model import BenchSign
from tonecompare.compare.side_by_side import SoundDifference, StageVoices, VoicePair, VoiceSound
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.quantities.octave_bands import BAND_SHAPES, BANDS
from tonecompare.report.words.names import voice_title
from tonecompare.report.words.numbers import listed, magnitude, number, signed_parts

#: What else may be in a difference between two voices, and where it must not be soldered on.
NEEDS_ONE_GAIN = tr_later(
    "Differences are as recorded: a gain turned or a hand that picked differently between two "
    "voices is in them. Hum and signal to hum compare only for one place, one direction and one "
    "gain; with hum in question, unplug before a cavity is opened or a joint soldered."
)
_BANDS = dict(zip(BAND_SHAPES, BANDS, strict=True))
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
        return tr("No voice surely softer than {loudest}", loudest=titles[voices.loudest])
    softest = min(sure, key=lambda one: sure[one].difference or 0.0)
    size, _ = _size(sure[softest])
    return tr(
        "{voice}: {size} softer than {loudest}",
        voice=titles[softest],
        size=size,
        loudest=titles[voices.loudest],
    )


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
        return tr(
            "{loudest} measures loudest, and no voice is shown to be softer.", loudest=loudest
        )
    softest = min(softer, key=lambda one: softer[one].difference or 0.0)
    size, ends = _size(softer[softest])
    if len(voices.sounds) == 2:
        return tr(
            "{loudest} is {size} louder than {other} ({interval}).",
            loudest=loudest,
            other=titles[softest],
            size=size,
            interval=ends,
        )
    said = tr(
        "{loudest} is the loudest and {softest} the softest, {size} below it ({interval})",
        loudest=loudest,
        softest=titles[softest],
        size=size,
        interval=ends,
    )
    if not open_:
        return f"{said}."
    whether = tr_n(
        "whether {voices} is softer is open",
        "whether {voices} are softer is open",
        len(open_),
        voices=listed(open_),
    )
    return f"{said}; {whether}."


def _farthest(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[str]:
    pair = voices.farthest
    if pair is None or pair.distance is None:
        yield tr("No two voices are shown to differ by more than one hearing threshold.")
        return
    far = pair.distance
    said = (
        tr_later("They stand {thresholds} apart {where}, {least} at least.")
        if len(voices.sounds) == 2
        else tr_later(
            "Farthest apart stand {one} and {other}: {thresholds} {where}, {least} at least."
        )
    )
    yield tr(
        said,
        one=titles[pair.sound],
        other=titles[pair.against],
        thresholds=_thresholds(far.value),
        where=_where(far.quantity),
        least=number(far.ci_low, 1),
    )


def _nearest(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[str]:
    if not voices.nearest:
        return
    if not voices.nearest[0].alike:
        (pair,) = voices.nearest[:1]
        near = pair.distance
        if near is None or len(voices.sounds) < 3:
            return
        how_far = (
            tr(
                "these takes leave open whether it is up to {high}",
                high=number(near.ci_high, 1),
            )
            if near.bounded
            else tr("how far at most, these takes do not show")
        )
        yield tr(
            "No two voices are shown to sound alike. Nearest are {one} and {other}, {thresholds} "
            "apart {where}; {how_far}.",
            one=titles[pair.sound],
            other=titles[pair.against],
            thresholds=_thresholds(near.value),
            where=_where(near.quantity),
            how_far=how_far,
        )
        return
    pairs = "; ".join(
        tr("{one} and {other}", one=titles[pair.sound], other=titles[pair.against])
        for pair in voices.nearest
    )
    if _has_decay(voices.nearest):
        said = tr(
            "{pairs} can hardly be told apart: level, every band and decay differ by less than a "
            "hearing threshold",
            pairs=pairs,
        )
    else:
        said = tr(
            "{pairs} can hardly be told apart: level and every band differ by less than a hearing "
            "threshold",
            pairs=pairs,
        )
    yield f"{said}{_but_hum(voices.nearest)}."


def _has_decay(pairs: Iterable[VoicePair]) -> bool:
    return all(pair.cells["decay_s"].difference is not None for pair in pairs)


def _but_hum(pairs: Iterable[VoicePair]) -> str:
    """Say that voices alike in sound hum unlike."""
    for pair in pairs:
        hum = pair.cells["hum_dbfs"]
        if hum.sure and hum.difference is not None and abs(hum.difference) > 1.0:
            size, _ = _size(hum)
            return f"; {tr('their hum differs by {size}', size=size)}"
    return ""


def _hum(voices: StageVoices, titles: Mapping[VoiceSound, str]) -> Iterable[str]:
    """Say which voices hum most and, where not the loudest does, which least."""
    cells = {pair.sound: pair.cells["hum_dbfs"] for pair in voices.against_loudest}
    values = {one: c.difference for one, c in cells.items() if c.difference is not None and c.sure}
    loudest = titles[voices.loudest]
    if len(voices.sounds) == 2:
        for one, value in values.items():
            size, ends = _size(cells[one])
            more = (
                tr_later("{voice} hums {size} more than {loudest} ({interval}).")
                if value > 0.0
                else tr_later("{voice} hums {size} less than {loudest} ({interval}).")
            )
            yield tr(more, voice=titles[one], size=size, loudest=loudest, interval=ends)
        return
    parts = []
    for sign, one_voice, several in (
        (
            1.0,
            tr_later("{voices} hums most, {size} above {loudest} ({interval})"),
            tr_later("{voices} hum most, {size} dB above {loudest}"),
        ),
        (
            -1.0,
            tr_later("{voices} hums least, {size} below {loudest} ({interval})"),
            tr_later("{voices} hum least, {size} dB below {loudest}"),
        ),
    ):
        there = {one: sign * value for one, value in values.items() if sign * value > 0.0}
        if not there:
            continue
        top = max(there.values())
        # Within a hearing threshold of the first one, no order is told.
        first = sorted((o for o in there if there[o] > top - 1.0), key=lambda o: -there[o])
        if len(first) == 1:
            size, ends = _size(cells[first[0]])
            name = titles[first[0]]
            parts.append(tr(one_voice, voices=name, size=size, loudest=loudest, interval=ends))
            continue
        low, high = number(there[first[-1]], 1), number(top, 1)
        span = high if low == high else tr("{low} to {high}", low=low, high=high)
        names = listed([titles[one] for one in first])
        parts.append(tr(several, voices=names, size=span, loudest=loudest))
    if parts:
        yield f"{'; '.join(parts)}."


def _coils(
    voices: StageVoices, titles: Mapping[VoiceSound, str], bench: Iterable[BenchSign]
) -> Iterable[str]:
    """Say how unlike the coils are that the hum left implies."""
    told = []
    for sign in bench:
        if sign.kind != "coil-mismatch" or sign.stage != voices.stage or not sign.value:
            continue
        full = titles.get(VoiceSound(sign.voice, sign.output), voice_title(sign.voice))
        digits = 0 if sign.value >= 10 else 1
        size = number(sign.value, digits)
        if sign.uncertainty is not None:
            # A rounded ± 0.0 would claim to be exact.
            size += f" ± {number(max(sign.uncertainty, 10.0**-digits), digits)}"
        told.append(tr("{voice} by {size} %", voice=full, size=size))
    if told:
        yield tr(
            "The hum that stays although two coils should cancel it says how unlike they are: "
            "{coils}, if all hum comes in by the coils.",
            coils=listed(told),
        )


def _one_piezo(voices: StageVoices) -> Iterable[str]:
    if voices.piezo_from:
        yield tr(
            "Several takes carry a piezo beside their magnetic voice; it stands here once, from "
            "the take of {voice}.",
            voice=voice_title(voices.piezo_from),
        )


def tone_told(cells: Mapping[str, SoundDifference]) -> str:
    """Return the bands that surely differ, the largest first, two at most."""
    sure = [cells[name] for name in BAND_SHAPES if cells[name].sure and not cells[name].weak]
    sure.sort(key=lambda cell: -abs(cell.difference or 0.0))
    told = [
        f"{_BANDS[cell.quantity].words} "
        f"{signed_parts(cell.difference or 0.0, cell.ci_low, cell.ci_high, cell.unit)[0]}"
        for cell in sure[:_BANDS_TOLD]
    ]
    rest = len(sure) - len(told)
    if rest:
        told.append(tr_n("{n} more band", "{n} more bands", rest))
    return ", ".join(told)


def _thresholds(value: float) -> str:
    said = number(value, 1)
    if said == number(1.0, 1):
        return tr("{size} hearing threshold", size=said)
    return tr("{size} hearing thresholds", size=said)


def _where(quantity: str) -> str:
    if quantity in _BANDS:
        return tr("in the {band}", band=_BANDS[quantity].words)
    return tr("in level")


def _size(cell: SoundDifference) -> tuple[str, str]:
    return magnitude(cell.difference or 0.0, cell.ci_low, cell.ci_high, cell.unit)

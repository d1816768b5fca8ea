"""Sentences on two outputs: delay and polarity, each output at the bench, recorded blends."""

from __future__ import annotations

from collections.abc import Sequence

from tonecompare.compare.model import AcousticLikeness, BenchSign
from tonecompare.language import tr, tr_as, tr_later, tr_n
from tonecompare.measure.outputs.mixing import LEAST_FULLER_DB
from tonecompare.measure.outputs.recorded_blend import RecordedBlend
from tonecompare.measure.outputs.results import BlendAdvice, DelayFit, Notch, OutputQuality
from tonecompare.report.words.finding_words.tone_words import hz_told
from tonecompare.report.words.numbers import is_number, number, plain, with_unit

#: A delay below this many standard uncertainties is not told from none.
_TOLD_FROM_NONE = 2.0
#: Attack that differs by this much between the outputs is worth a sentence, dB.
_ATTACK_DB = 3.0


def delay_sentence(delay: DelayFit) -> str:
    """Say what delay and polarity stand between the outputs, or why that is not known."""
    if delay.polarity is None:
        return tr(
            "Delay and polarity of the electronics are not determinable: {why}.",
            why=tr(delay.reason),
        )
    turned = (
        tr("the same polarity")
        if delay.polarity == 1
        else tr("opposite polarity: the electronics invert one of them")
    )
    if delay.delay_s is None or delay.delay_se_s is None:
        return tr(
            "The outputs have {turned}; their delay is not determinable: {why}.",
            turned=turned,
            why=tr(delay.reason),
        )
    how_sure = with_unit(1e6 * delay.delay_s, "µs", uncertainty=1e6 * delay.delay_se_s)
    of = _notes(delay.n_notes)
    if abs(delay.delay_s) < _TOLD_FROM_NONE * delay.delay_se_s:
        return tr(
            "No electronic delay shows ({size}); the outputs have {turned} ({notes}).",
            size=how_sure,
            turned=turned,
            notes=of,
        )
    size = with_unit(abs(1e6 * delay.delay_s), "µs", uncertainty=1e6 * delay.delay_se_s)
    # Delays are written in whole microseconds.
    within = 1e6 * delay.delay_se_s
    unsure = f"± {with_unit(within, 'µs')}" if within >= 1.0 else tr("to better than 1 µs")
    later = tr_later(
        "The piezo output comes {size} later than the magnetic one ({unsure}), the string's travel "
        "and the outputs' filters taken out, and they have {turned} ({notes})."
    )
    earlier = tr_later(
        "The piezo output comes {size} earlier than the magnetic one ({unsure}), the string's "
        "travel and the outputs' filters taken out, and they have {turned} ({notes})."
    )
    said = later if delay.delay_s > 0 else earlier
    return tr(said, size=size, unsure=unsure, turned=turned, notes=of)


def _notes(n: int) -> str:
    return tr_n("{n} note", "{n} notes", n)


def advice_sentences(advice: BlendAdvice) -> list[str]:
    """Say which polarity is fuller, then which ratios keep every band, or why that is not known."""
    if advice.fuller_by_db is None or advice.worst is None:
        return [
            tr("No band stands above the quiet on both outputs, so the blend cannot be judged.")
        ]
    return [
        _fuller(advice.fuller_polarity, advice.fuller_by_db),
        _ratios(advice.ratio_ranges, advice.thin_limit_db, *advice.worst),
    ]


def _fuller(polarity: int | None, by_db: float) -> str:
    if polarity is None:
        return tr(
            "Inverting one output changes the blend by {size} dB on average, less than the {least} "
            "dB one can just hear: polarity makes no difference here.",
            size=number(abs(by_db), 1),
            least=plain(LEAST_FULLER_DB),
        )
    said = (
        tr_later(
            "The blend is fuller left as it is wired, by {size} dB on average over 80 Hz to 5 kHz."
        )
        if polarity == 1
        else tr_later(
            "The blend is fuller with one output inverted, by {size} dB on average over 80 Hz to "
            "5 kHz."
        )
    )
    return tr(said, size=number(abs(by_db), 1))


def _ratios(
    ranges: tuple[tuple[float, float], ...], limit_db: float, worst_hz: float, worst_ratio: float
) -> str:
    limit = number(limit_db, 0)
    if ranges == ((0.0, 1.0),):
        return tr(
            "At every share of the piezo each band stays within {limit} dB of the power sum of its "
            "parts.",
            limit=limit,
        )
    hz, ratio = hz_told(worst_hz), _percent(worst_ratio)
    if not ranges:
        return tr(
            "No blend keeps each band within {limit} dB of the power sum of its parts; the "
            "worst is {hz} at {ratio} % piezo.",
            limit=limit,
            hz=hz,
            ratio=ratio,
        )
    spans = tr(" or ").join(
        tr("{low} to {high} %", low=_percent(low), high=_percent(high)) for low, high in ranges
    )
    return tr(
        "Blends of {spans} piezo keep each band within {limit} dB of the power sum of its parts; "
        "the worst of the others is {hz} at {ratio} % piezo.",
        spans=spans,
        limit=limit,
        hz=hz,
        ratio=ratio,
    )


def notch_sentence(notch: Notch) -> str:
    """Say where the blend thins, by how much and what causes it."""
    says = tr(
        "At {ratio} % piezo the blend is {depth} dB below its parts at {hz}",
        ratio=_percent(notch.ratio),
        depth=number(-notch.depth_db, 1),
        hz=hz_told(notch.frequency_hz),
    )
    inverted = number(notch.inverted_db, 1, signed=True)
    if notch.cause in ("delay", "delay and polarity") and notch.delay_s is not None:
        return tr(
            "{notch}: the electronic delay of {delay} ms turns the outputs against each other "
            "there ({without} dB without the delay, {inverted} dB with one inverted).",
            notch=says,
            delay=number(notch.delay_s * 1e3, 2),
            without=number(notch.without_delay_db, 1, signed=True),
            inverted=inverted,
        )
    if notch.cause == "polarity":
        return tr(
            "{notch}: the outputs oppose each other there ({inverted} dB with one inverted).",
            notch=says,
            inverted=inverted,
        )
    return tr(
        "{notch}; neither inverting an output nor taking out the delay changes that much.",
        notch=says,
    )


def _percent(ratio: float) -> str:
    return number(100.0 * ratio, 0)


def polarity_sentence(polarity: int | None, fuller: int | None) -> str:
    """Say how the polarity of the electronics and the fuller blend go together; "" when plain.

    ``polarity`` is 1 for the same, -1 for opposite polarity as wired, ``fuller`` 1 for the blend
    left as it is wired, -1 for one output inverted.
    """
    ground = tr(
        "pickup and piezo are a quarter period apart at every partial, so neither polarity is "
        "right in itself, and the delay and the filters of the outputs decide which one fills"
    )
    if (polarity, fuller) == (-1, 1):
        return tr(
            "That the outputs have opposite polarity is no fault then: {ground}. Here it is the "
            "one they have now; leave it.",
            ground=ground,
        )
    if (polarity, fuller) == (1, -1):
        return tr(
            "That the outputs have the same polarity does not make the blend full: {ground}. "
            "Here it is the opposite one, so invert either output.",
            ground=ground,
        )
    if (polarity, fuller) == (-1, -1):
        return tr(
            "Inverting either output gives both the same polarity and the fuller blend at once."
        )
    return ""


_HARDER = {
    "all": tr_later(
        "The attack of the piezo output is {size} harder than the magnetic one's (peak of the "
        "first 20 ms over the RMS of 100 to 500 ms)."
    ),
    "high": tr_later(
        "The attack above 2 kHz of the piezo output is {size} harder than the magnetic one's (peak "
        "of the first 20 ms over the RMS of 100 to 500 ms)."
    ),
}
_SOFTER = {
    "all": tr_later(
        "The attack of the piezo output is {size} softer than the magnetic one's (peak of the "
        "first 20 ms over the RMS of 100 to 500 ms)."
    ),
    "high": tr_later(
        "The attack above 2 kHz of the piezo output is {size} softer than the magnetic one's (peak "
        "of the first 20 ms over the RMS of 100 to 500 ms)."
    ),
}


def quality_sentences(magnetic: OutputQuality, piezo: OutputQuality) -> list[str]:
    """Say how hard the attack of each output is and how far up each reaches."""
    said = []
    hard = {band: piezo.transient_db.get(band) for band in ("all", "high")}
    soft = {band: magnetic.transient_db.get(band) for band in ("all", "high")}
    for band in ("all", "high"):
        ours, theirs = hard[band], soft[band]
        if is_number(ours) and is_number(theirs) and abs(ours - theirs) >= _ATTACK_DB:
            way = _HARDER[band] if ours > theirs else _SOFTER[band]
            said.append(tr(way, size=with_unit(abs(ours - theirs), "dB")))
    if is_number(piezo.bandwidth_hz) and is_number(magnetic.bandwidth_hz):
        said.append(
            tr(
                "Within 40 dB of its strongest third octave the piezo output reaches up to "
                "{piezo}, the magnetic one up to {magnetic}.",
                piezo=with_unit(piezo.bandwidth_hz, "Hz"),
                magnetic=with_unit(magnetic.bandwidth_hz, "Hz"),
            )
        )
    return said


def at_bench_sentence(key: tuple[str, str], signs: Sequence[BenchSign]) -> str:
    """Say how much of a stage and voice stands among the bench signs; "" when nothing does."""
    n = sum((sign.stage, sign.voice) == key for sign in signs)
    if not n:
        return ""
    return tr_n(
        "{n} more finding on this voice stands under",
        "{n} more findings on this voice stand under",
        n,
    )


def recorded_sentence(found: RecordedBlend, voice: str) -> str:
    """Say what a recorded blend is made of and how well its outputs predict it."""
    if found.ratio is None or found.misfit_db is None:
        return tr(
            "What the recording {voice} is made of could not be worked out: {why}.",
            voice=voice,
            why=tr(found.reason),
        )
    spread = f" ± {_percent(found.ratio_se)}" if found.ratio_se is not None else ""
    polarity = (
        tr(", in the polarity of the two-channel recording")
        if found.polarity == 1
        else tr(", one output inverted against the two-channel recording")
        if found.polarity
        else tr("; its polarity is not determinable")
    )
    return tr(
        "The recording {voice} holds a blend of {ratio} % piezo{polarity}: the two outputs predict "
        "its third octaves to {misfit} RMS over {notes}, plucked anew.",
        voice=voice,
        ratio=f"{_percent(found.ratio)}{spread}",
        polarity=polarity,
        misfit=with_unit(found.misfit_db, "dB"),
        notes=_notes(found.n_notes),
    )


def likeness_sentences(one: AcousticLikeness) -> list[str]:
    """Say which blend comes nearest to the reference and what is left."""
    polarity = "" if one.nearest_polarity == 1 else tr(", one output inverted")
    low, high = one.as_good
    span = (
        tr(" ({low} to {high} % are as good)", low=_percent(low), high=_percent(high))
        if high > low
        else ""
    )
    sentences = [
        tr(
            "Nearest to {reference} comes the blend of {ratio}: {nearest} hearing thresholds "
            "away per third octave, against {magnetic} for the magnetic and {piezo} for the piezo "
            "output alone.",
            reference=one.reference or tr_as("nearest to", "the reference"),
            ratio=f"{tr('{percent} % piezo', percent=_percent(one.nearest_ratio))}{polarity}{span}",
            nearest=number(one.nearest_distance, 1),
            magnetic=number(one.magnetic_distance, 1),
            piezo=number(one.piezo_distance, 1),
        )
    ]
    if one.equaliser is not None:
        n, share = len(one.equaliser.bands), number(100.0 * one.equaliser.share, 0)
        sentences.append(
            tr_n(
                "An equaliser of one band closes {share} % of the rest of the spectrum; attack, "
                "decay and the room it cannot give.",
                "An equaliser of {n} bands closes {share} % of the rest of the spectrum; attack, "
                "decay and the room it cannot give.",
                n,
                share=share,
            )
        )
    return sentences


def beside_sentences(likeness: AcousticLikeness) -> list[str]:
    """Say how attack and decay of each output stand beside the reference's."""
    said = {
        "attack_ms": tr_later(
            "Attack of the {output} output {size}, of the reference {other}: {distance} hearing "
            "thresholds over {notes}."
        ),
        "decay_s": tr_later(
            "Decay of the {output} output {size}, of the reference {other}: {distance} hearing "
            "thresholds over {notes}."
        ),
    }
    outputs = {
        "magnetic": tr_as("of the output", "magnetic"),
        "piezo": tr_as("of the output", "piezo"),
    }
    return [
        tr(
            said[one.quantity],
            output=outputs.get(one.output, one.output),
            size=with_unit(one.value, one.unit),
            other=with_unit(one.reference, one.unit),
            distance=number(one.thresholds, 1, signed=True),
            notes=_notes(one.n_notes),
        )
        for one in likeness.beside
    ]

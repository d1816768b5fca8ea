"""Sentences on two outputs: delay and polarity, each output at the bench, recorded blends."""

from __future__ import annotations

from collections.abc import Sequence

from tonecompare.compare.model import AcousticLikeness, BenchSign
from tonecompare.measure.outputs.mixing import LEAST_FULLER_DB
from tonecompare.measure.outputs.recorded_blend import RecordedBlend
from tonecompare.measure.outputs.results import BlendAdvice, DelayFit, Notch, OutputQuality
from tonecompare.report.words.numbers import count, is_number, number, with_unit

#: A delay below this many standard uncertainties is not told from none.
_TOLD_FROM_NONE = 2.0
#: Attack that differs by this much between the outputs is worth a sentence, dB.
_ATTACK_DB = 3.0


def delay_sentence(delay: DelayFit) -> str:
    """Say what delay and polarity stand between the outputs, or why that is not known."""
    if delay.polarity is None:
        return f"Delay and polarity of the electronics are not determinable: {delay.reason}."
    same, opposite = "the same polarity", "opposite polarity: the electronics invert one of them"
    turned = same if delay.polarity == 1 else opposite
    if delay.delay_s is None or delay.delay_se_s is None:
        return f"The outputs have {turned}; their delay is not determinable: {delay.reason}."
    how_sure = with_unit(1e6 * delay.delay_s, "µs", uncertainty=1e6 * delay.delay_se_s)
    of = count(delay.n_notes, "note")
    if abs(delay.delay_s) < _TOLD_FROM_NONE * delay.delay_se_s:
        return f"No electronic delay shows ({how_sure}); the outputs have {turned} ({of})."
    which = "later" if delay.delay_s > 0 else "earlier"
    size = with_unit(abs(1e6 * delay.delay_s), "µs", uncertainty=1e6 * delay.delay_se_s)
    # Delays are written in whole microseconds.
    within = 1e6 * delay.delay_se_s
    unsure = f"± {with_unit(within, 'µs')}" if within >= 1.0 else "to better than 1 µs"
    return (
        f"The piezo output comes {size} {which} than the magnetic one ({unsure}), "
        f"the string's travel and the outputs' filters taken out, and they have {turned} ({of})."
    )


def advice_sentences(advice: BlendAdvice) -> list[str]:
    """Say which polarity is fuller, then which ratios keep every band, or why that is not known."""
    if advice.fuller_by_db is None or advice.worst is None:
        return ["No band stands above the quiet on both outputs, so the blend cannot be judged."]
    return [
        _fuller(advice.fuller_polarity, advice.fuller_by_db),
        _ratios(advice.ratio_ranges, advice.thin_limit_db, *advice.worst),
    ]


def _fuller(polarity: int | None, by_db: float) -> str:
    if polarity is None:
        return (
            f"Inverting one output changes the blend by {abs(by_db):.1f} dB on average, less than "
            f"the {LEAST_FULLER_DB} dB one can just hear: polarity makes no difference here."
        )
    how = "left as it is wired" if polarity == 1 else "with one output inverted"
    return f"The blend is fuller {how}, by {abs(by_db):.1f} dB on average over 80 Hz to 5 kHz."


def _ratios(
    ranges: tuple[tuple[float, float], ...], limit_db: float, worst_hz: float, worst_ratio: float
) -> str:
    limit = f"{limit_db:.0f} dB of the power sum of its parts"
    if ranges == ((0.0, 1.0),):
        return f"At every ratio each band stays within {limit}."
    where = f"{_nominal(worst_hz)} at ratio {worst_ratio:.2f}"
    if not ranges:
        return f"No mixed ratio keeps each band within {limit}; the worst is {where}."
    spans = " or ".join(f"{low:.2f} to {high:.2f}" for low, high in ranges)
    return f"Ratios {spans} keep each band within {limit}; the worst of the others is {where}."


def notch_sentence(notch: Notch) -> str:
    """Say where the blend thins, by how much and what causes it."""
    says = (
        f"At ratio {notch.ratio:.2f} the blend is {-notch.depth_db:.1f} dB below its parts at "
        f"{_nominal(notch.frequency_hz)}"
    )
    if notch.cause in ("delay", "delay and polarity") and notch.delay_s is not None:
        return (
            f"{says}: the electronic delay of {notch.delay_s * 1e3:.2f} ms turns the outputs "
            f"against each other there ({notch.without_delay_db:+.1f} dB without the delay, "
            f"{notch.inverted_db:+.1f} dB with one inverted)."
        )
    if notch.cause == "polarity":
        return (
            f"{says}: the outputs oppose each other there ({notch.inverted_db:+.1f} dB with one "
            "inverted)."
        )
    return f"{says}; neither inverting an output nor taking out the delay changes that much."


def _nominal(hz: float) -> str:
    """Band centre to two digits: "2500 Hz"."""
    return f"{float(f'{hz:.2g}'):g} Hz"


def polarity_sentence(polarity: int | None, fuller: int | None) -> str:
    """Say how the polarity of the electronics and the fuller blend go together; "" when plain.

    ``polarity`` is 1 for the same, -1 for opposite polarity as wired, ``fuller`` 1 for the blend
    left as it is wired, -1 for one output inverted.
    """
    ground = (
        "pickup and piezo are a quarter period apart at every partial, so neither polarity is "
        "right in itself, and the delay and the filters of the outputs decide which one fills"
    )
    if (polarity, fuller) == (-1, 1):
        return (
            f"That the outputs have opposite polarity is no fault then: {ground}. Here it is the "
            "one they have now; leave it."
        )
    if (polarity, fuller) == (1, -1):
        return (
            f"That the outputs have the same polarity does not make the blend full: {ground}. "
            "Here it is the opposite one, so invert either output."
        )
    if (polarity, fuller) == (-1, -1):
        return "Inverting either output gives both the same polarity and the fuller blend at once."
    return ""


def quality_sentences(magnetic: OutputQuality, piezo: OutputQuality) -> list[str]:
    """Say how hard the attack of each output is and how far up each reaches."""
    said = []
    hard = {band: piezo.transient_db.get(band) for band in ("all", "high")}
    soft = {band: magnetic.transient_db.get(band) for band in ("all", "high")}
    for band, name in (("all", "attack"), ("high", "attack above 2 kHz")):
        ours, theirs = hard[band], soft[band]
        if is_number(ours) and is_number(theirs) and abs(ours - theirs) >= _ATTACK_DB:
            which = "harder" if ours > theirs else "softer"
            said.append(
                f"The {name} of the piezo output is {with_unit(abs(ours - theirs), 'dB')} {which} "
                "than the magnetic one's (peak of the first 20 ms over the RMS of 100 to 500 ms)."
            )
    if is_number(piezo.bandwidth_hz) and is_number(magnetic.bandwidth_hz):
        said.append(
            f"Within 40 dB of its strongest third octave the piezo output reaches up to "
            f"{with_unit(piezo.bandwidth_hz, 'Hz')}, the magnetic one up to "
            f"{with_unit(magnetic.bandwidth_hz, 'Hz')}."
        )
    return said


def at_bench_sentence(key: tuple[str, str], signs: Sequence[BenchSign]) -> str:
    """Say how much of a stage and voice stands among the bench signs; "" when nothing does."""
    n = sum((sign.stage, sign.voice) == key for sign in signs)
    if not n:
        return ""
    return f"{count(n, 'more finding')} on this voice {'stands' if n == 1 else 'stand'} under"


def recorded_sentence(found: RecordedBlend, voice: str) -> str:
    """Say what a recorded blend is made of and how well its outputs predict it."""
    if found.ratio is None or found.misfit_db is None:
        return f"What the recording {voice} is made of could not be worked out: {found.reason}."
    spread = f" ± {number(found.ratio_se, 2)}" if found.ratio_se is not None else ""
    against = {1: "in the polarity of", -1: "one output inverted against"}
    polarity = ""
    if found.polarity:
        polarity = f", {against[found.polarity]} the two-channel recording"
    open_ = "" if found.polarity else "; its polarity is not determinable"
    return (
        f"The recording {voice} holds a blend at ratio {number(found.ratio, 2)}{spread}{polarity}"
        f"{open_}: the two outputs predict its third octaves to "
        f"{with_unit(found.misfit_db, 'dB')} RMS over {count(found.n_notes, 'note')}, plucked anew."
    )


def likeness_sentences(one: AcousticLikeness) -> list[str]:
    """Say which blend comes nearest to the reference and what is left."""
    polarity = "" if one.nearest_polarity == 1 else ", one output inverted"
    low, high = one.as_good
    span = f" (ratios {low:.2f} to {high:.2f} are as good)" if high > low else ""
    sentences = [
        f"Nearest to {one.reference or 'the reference'} comes the blend at ratio "
        f"{one.nearest_ratio:.2f}{polarity}{span}: {one.nearest_distance:.1f} hearing thresholds "
        f"away per third octave, against {one.magnetic_distance:.1f} for the magnetic and "
        f"{one.piezo_distance:.1f} for the piezo output alone."
    ]
    if one.equaliser is not None:
        n = len(one.equaliser.bands)
        sentences.append(
            f"An equaliser of {'one band' if n == 1 else f'{n} bands'} closes "
            f"{100.0 * one.equaliser.share:.0f} % of the rest of the spectrum; attack, "
            "decay and the room it cannot give."
        )
    return sentences


def beside_sentences(likeness: AcousticLikeness) -> list[str]:
    """Say how attack and decay of each output stand beside the reference's."""
    names = {"attack_ms": "Attack", "decay_s": "Decay"}
    return [
        f"{names[one.quantity]} of the {one.output} output {with_unit(one.value, one.unit)}, of "
        f"the reference {with_unit(one.reference, one.unit)}: "
        f"{number(one.thresholds, 1, signed=True)} hearing thresholds over "
        f"{count(one.n_notes, 'note')}."
        for one in likeness.beside
    ]

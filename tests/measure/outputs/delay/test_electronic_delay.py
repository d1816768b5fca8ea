"""Delay and polarity between two outputs: found where takes tell, withheld where they do not."""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from two_outputs import OPEN_HZ, Wiring, open_strings, pluck

from tonecompare.errors import InputError
from tonecompare.measure.outputs.delay import electronic_delay
from tonecompare.measure.outputs.delay.partial_ratios import partial_ratios
from tonecompare.measure.outputs.delay.wiring_fit import Fit
from tonecompare.measure.outputs.measure_outputs import measure_delay
from tonecompare.measure.outputs.results import BlendPair

#: A coil with cable and a piezo into its preamp (check-values section 6 and 7: 2.4 H example,
#: 1 nF into 1 MOhm).
WIRED = Wiring(low_pass_hz=4861.0, low_pass_q=1.42, high_pass_hz=159.0)


def _rng(seed: int = 1) -> np.random.Generator:
    return np.random.default_rng(seed)


def test_the_helper_obeys_the_travelling_wave_identity() -> None:
    # v(d, t) = [F(t + tau) - F(t - tau)] / 2, tau = d / (2 L f0): check-values section 7. An
    # undamped, flexible string; 24 samples of travel at this pitch and place.
    pair = pluck(100.0, wiring=Wiring(), position=0.1, t60_s=1e9, snr_db=None, rng=_rng())
    lag = round(0.1 / (2 * 100.0) * pair.rate_hz)
    middle = slice(3000, 12000)
    force, scale = pair.piezo, 0.5
    ahead, behind = np.roll(force, -lag), np.roll(force, lag)
    assert pair.magnetic[middle] == pytest.approx(scale * (ahead - behind)[middle], abs=1e-9)


@pytest.mark.parametrize(("delay_us", "polarity"), [(0.0, 1), (370.0, -1), (2000.0, 1)])
def test_delay_and_polarity_through_real_filters(delay_us: float, polarity: int) -> None:
    # 5 us at 50 dB is the tolerance the project sets itself; measured errors are 1 us to 2 us.
    wiring = dataclasses.replace(WIRED, delay_s=delay_us * 1e-6, polarity=polarity)
    fit = measure_delay(open_strings(wiring, rng=_rng(2)))
    assert fit.polarity == polarity
    assert fit.delay_s is not None
    assert 1e6 * fit.delay_s == pytest.approx(delay_us, abs=5.0)
    assert fit.delay_se_s is not None
    assert 1e6 * fit.delay_se_s < 8.0


def test_no_delay_from_a_fit_that_did_not_come_to_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    wiring = dataclasses.replace(WIRED, delay_s=370e-6)
    pairs = open_strings(wiring, rng=_rng(2))
    whole = electronic_delay.refine

    def hasty(*args: Any, **kinds: Any) -> Fit:
        fit = whole(*args, **kinds)
        last = kinds.get("steps") is None
        return dataclasses.replace(fit, converged=False) if last else fit

    monkeypatch.setattr(electronic_delay, "refine", hasty)
    found = measure_delay(pairs)
    assert (found.delay_s, found.delay_se_s) == (None, None)
    assert found.reason == "the fit of delay and filters did not come to rest; record more strings"
    assert found.polarity == 1


def test_a_fit_of_the_wiring_says_whether_it_came_to_rest(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fits: list[Fit] = []
    whole = electronic_delay.refine

    def noted(*args: Any, **kinds: Any) -> Fit:
        fits.append(whole(*args, **kinds))
        return fits[-1]

    monkeypatch.setattr(electronic_delay, "refine", noted)
    measure_delay(open_strings(WIRED, rng=_rng(2)))
    # The first looks from the grid are cut short, the last fits are not.
    assert any(not fit.converged and fit.evaluations == 12 for fit in fits)
    assert all(fit.converged and fit.evaluations < 80 for fit in fits[-3:])


def test_delay_without_any_filter_and_piezo_ahead() -> None:
    fit = measure_delay(open_strings(Wiring(delay_s=-250e-6, polarity=-1), rng=_rng(3)))
    assert fit.polarity == -1
    assert fit.delay_s is not None
    # No filter, no second polarisation: what is left is the noise.
    assert 1e6 * fit.delay_s == pytest.approx(-250.0, abs=1.5)


def test_the_travel_along_the_string_is_not_taken_for_a_delay() -> None:
    # With the pickup far from the bridge the magnetic output leads by d/c = 1.5 ms on the low E,
    # and the strongest correlation stands there; the electronics add nothing.
    pairs = open_strings(Wiring(), rng=_rng(4), position=0.25)
    low = pairs[0]
    correlation = np.correlate(low.piezo[:6000], low.magnetic[:6000], "full")
    peak_s = abs(int(np.argmax(np.abs(correlation))) - 5999) / low.rate_hz
    assert peak_s > 1e-3
    fit = measure_delay(pairs)
    assert fit.delay_s == pytest.approx(0.0, abs=2e-6)
    assert fit.polarity == 1


def test_fretted_notes_without_a_known_string() -> None:
    wiring = dataclasses.replace(WIRED, delay_s=800e-6, polarity=-1)
    pairs = []
    for index, (string, fret) in enumerate([(5, 5), (4, 2), (3, 7), (2, 3)]):
        ratio = 2 ** (fret / 12)
        pairs.append(
            pluck(
                OPEN_HZ[string] * ratio, wiring=wiring, position=0.15 * ratio, rng=_rng(index),
                note=f"n{index}",
            )
        )  # fmt: skip
    fit = measure_delay(pairs)
    assert fit.polarity == -1
    assert fit.delay_s == pytest.approx(800e-6, abs=6e-6)


def test_one_open_string_tells_polarity_and_is_less_sure_of_the_delay() -> None:
    wiring = dataclasses.replace(WIRED, delay_s=600e-6, polarity=-1)
    pairs = open_strings(wiring, rng=_rng(6))
    one, six = measure_delay(pairs[2:3]), measure_delay(pairs)
    assert one.polarity == -1
    assert one.delay_s is not None
    assert one.delay_se_s is not None
    assert six.delay_se_s is not None
    assert one.delay_s == pytest.approx(600e-6, abs=3 * one.delay_se_s)
    assert one.delay_se_s > six.delay_se_s


def test_inverting_the_piezo_turns_the_polarity_and_nothing_else() -> None:
    pairs = open_strings(dataclasses.replace(WIRED, delay_s=300e-6), rng=_rng(7), strings=(5, 3, 1))
    turned = [dataclasses.replace(pair, piezo=-pair.piezo) for pair in pairs]
    a, b = measure_delay(pairs), measure_delay(turned)
    assert (a.polarity, b.polarity) == (1, -1)
    assert a.delay_s == pytest.approx(b.delay_s, abs=1e-9)


def test_unrelated_outputs_are_not_determinable() -> None:
    rng = _rng(8)
    mixed = []
    for pair in open_strings(Wiring(), rng=rng, strings=(6, 4, 2)):
        # The partials of the piezo get phases of their own: no string joins the two.
        spectrum = np.fft.rfft(pair.piezo)
        spectrum = np.abs(spectrum) * np.exp(2j * np.pi * rng.random(spectrum.size))
        mixed.append(dataclasses.replace(pair, piezo=np.fft.irfft(spectrum, pair.piezo.size)))
    fit = measure_delay(mixed)
    assert fit.polarity is None
    assert fit.delay_s is None
    assert fit.reason


def test_noise_alone_is_not_determinable() -> None:
    noise = _rng(9).standard_normal((2, 15000)) * 0.01
    fit = measure_delay([BlendPair("A2", 5, 110.0, noise[0], noise[1], 960, 48000.0)])
    assert fit.polarity is None
    assert fit.delay_s is None


def test_two_partials_are_not_enough() -> None:
    t = np.arange(15000) / 48000.0
    tone = sum(np.sin(2 * np.pi * 110.0 * n * t) / n for n in (1, 2))
    fit = measure_delay([BlendPair("A2", 5, 110.0, np.asarray(tone), np.asarray(tone), 960, 48e3)])
    assert fit.polarity is None
    assert "four partials" in fit.reason


def test_ratio_at_the_partials_is_j_sine() -> None:
    # Closed form: V/F = j sin(n pi d/L) (check-values section 7), no filters, no noise.
    pair = pluck(110.0, wiring=Wiring(), position=0.2, snr_db=None, rng=_rng())
    ratios = partial_ratios([pair])
    assert ratios is not None
    expected = 1j * np.sin(np.pi * 0.2 * ratios.number)
    # Partials decay within a frame; 0.5 % of full size is what the window leaves of that.
    assert ratios.ratio[:30] == pytest.approx(expected[:30], abs=5e-3)


def test_bad_pairs_are_refused_in_words() -> None:
    pair = pluck(110.0, wiring=Wiring(), rng=_rng(), note="A2")
    with pytest.raises(InputError, match="A2: the magnetic output has the shape"):
        measure_delay([dataclasses.replace(pair, piezo=pair.piezo[:-1])])
    with pytest.raises(InputError, match=r"rate_hz=48\.0 is too low; did you give kHz"):
        measure_delay([dataclasses.replace(pair, rate_hz=48.0)])
    with pytest.raises(InputError, match=r"f0_hz=5\.0 is outside 20 Hz"):
        measure_delay([dataclasses.replace(pair, f0_hz=5.0)])
    with pytest.raises(InputError, match="onset_index=-1 is outside"):
        measure_delay([dataclasses.replace(pair, onset_index=-1)])
    broken = pair.piezo.copy()
    broken[7] = np.nan
    with pytest.raises(InputError, match="NaN"):
        measure_delay([dataclasses.replace(pair, piezo=broken)])

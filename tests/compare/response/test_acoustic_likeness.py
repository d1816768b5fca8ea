"""How near blends come to a reference: found again where the reference is a blend itself."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from two_outputs import FloatArray, Wiring, open_strings

from tonecompare.compare.model import EqualiserBand
from tonecompare.compare.response.acoustic_likeness import likeness, likeness_of_session
from tonecompare.compare.response.biquads import gain_db
from tonecompare.measure.outputs.band_powers import BAND_HZ, output_bands
from tonecompare.measure.outputs.measure_outputs import measure_blend
from tonecompare.measure.outputs.results import BlendPair, BlendResult

WIRED = Wiring(delay_s=250e-6, low_pass_hz=4861.0, high_pass_hz=60.0, piezo_gain=0.8)
BELL = EqualiserBand("peak", 800.0, 6.0, 1.0)


@pytest.fixture(scope="module")
def pairs() -> list[BlendPair]:
    return open_strings(
        WIRED, rng=np.random.default_rng(1), strings=(6, 5, 3, 1), length_s=0.6, snr_db=60.0
    )


@pytest.fixture(scope="module")
def blend(pairs: list[BlendPair]) -> BlendResult:
    return measure_blend(pairs)


def _mixed(pairs: list[BlendPair], ratio: float, polarity: int) -> dict[str, FloatArray]:
    bands = {}
    for pair in pairs:
        samples = 0.3 * ((1 - ratio) * pair.magnetic + polarity * ratio * pair.piezo)
        power = output_bands(samples, None, pair)
        assert power is not None
        bands[pair.note] = power
    return bands


@pytest.mark.parametrize(("ratio", "polarity"), [(0.0, 1), (0.35, 1), (0.6, -1), (1.0, 1)])
def test_a_reference_that_is_a_blend_is_found(
    pairs: list[BlendPair], blend: BlendResult, ratio: float, polarity: int
) -> None:
    found = likeness(blend, _mixed(pairs, ratio, polarity))
    assert found is not None
    assert found.nearest_ratio == pytest.approx(ratio, abs=1e-9)
    assert found.nearest_distance < 0.05
    if 0 < ratio < 1:
        assert found.nearest_polarity == polarity
    assert found.n_notes == 4


def test_distance_counts_thresholds_of_level(pairs: list[BlendPair], blend: BlendResult) -> None:
    # A tilt of known size: +a and -a on alternating bands is a RMS of a dB, a thresholds of 1 dB.
    reference = _mixed(pairs, 1.0, 1)
    wiggle = 2.0 * (-1.0) ** np.arange(BAND_HZ.size)
    turned = {note: power * 10 ** (wiggle / 10) for note, power in reference.items()}
    found = likeness(blend, turned)
    assert found is not None
    assert found.piezo_distance == pytest.approx(2.0, abs=0.12)


def test_the_equaliser_gives_back_what_a_bell_took(
    pairs: list[BlendPair], blend: BlendResult
) -> None:
    shape = gain_db([BELL], BAND_HZ, rate_hz=48000.0)
    rng = np.random.default_rng(3)
    reference = {
        note: power * 10 ** ((shape + rng.normal(0.0, 0.2, BAND_HZ.size)) / 10)
        for note, power in _mixed(pairs, 1.0, 1).items()
    }
    found = likeness(blend, reference)
    assert found is not None
    assert found.nearest_distance > 1.0
    assert found.equaliser is not None
    assert found.equaliser.share > 0.6
    strongest = max(found.equaliser.bands, key=lambda band: abs(band.gain_db))
    assert strongest.gain_db > 0
    assert strongest.frequency_hz == pytest.approx(800.0, rel=0.2)


def test_no_shared_note_no_likeness(blend: BlendResult) -> None:
    assert likeness(blend, {"C9": np.ones(BAND_HZ.size)}) is None


def test_session_finds_the_reference_by_its_name(
    pairs: list[BlendPair], blend: BlendResult
) -> None:
    rows = [
        {"stage": stage, "voice": voice, "output": output, "note": note, "attack_ms": attack,
         "decay_s": decay}
        for stage, voice, output, attack, decay in (
            ("piezo", "both", "magnetic", 4.0, 4.0), ("piezo", "both", "piezo", 2.0, 4.0),
            ("piezo", "acoustic", "magnetic", 4.0, 2.0),
        )
        for note in ("E2", "A2")
    ]  # fmt: skip
    reference = _mixed(pairs, 0.5, 1)
    measurements = SimpleNamespace(
        plucks=pd.DataFrame(rows),
        blends={("piezo", "both"): blend},
        bands={
            ("piezo", "acoustic", "magnetic"): reference,
            ("piezo", "neck", "magnetic"): reference,
        },
    )
    (found,) = likeness_of_session(measurements)  # type: ignore[arg-type]
    assert (found.voice, found.reference) == ("both", "acoustic")
    by = {(one.quantity, one.output): one for one in found.beside}
    # Twice as long a decay is +100 %, half the attack -50 %, in thresholds of the table.
    assert by["decay_s", "magnetic"].thresholds == pytest.approx(100 / 40, rel=0.01)
    assert by["attack_ms", "piezo"].thresholds < 0
    assert by["attack_ms", "magnetic"].thresholds == pytest.approx(0.0)
    owner = {"level": 2.0, "decay_s": 50.0, "decay": 10.0, "attack": 25.0}
    (told,) = likeness_of_session(measurements, overrides=owner)  # type: ignore[arg-type]
    # The table's 1 dB; twice the threshold is half the distance.
    assert (found.threshold_db, told.threshold_db) == (1.0, 2.0)
    assert told.distance == pytest.approx(found.distance / 2.0)
    by = {(one.quantity, one.output): one for one in told.beside}
    assert by["decay_s", "magnetic"].thresholds == pytest.approx(100 / 50)  # the column's name wins
    assert by["attack_ms", "piezo"].thresholds == pytest.approx(-50 / 25)

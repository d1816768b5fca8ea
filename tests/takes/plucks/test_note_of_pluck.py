"""Naming notes by pitch.

Frequencies: equal temperament on A4 = 440 Hz (ISO 16), ``440 * 2^((m - 69) / 12)`` of the MIDI
number m. Stiff string: ``f_n = n f0 sqrt(1 + B n²)`` (Fletcher 1964, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pytest

from tonecompare.session.model import STANDARD_TUNING
from tonecompare.session.note_names import note_name
from tonecompare.takes.plucks.note_of_pluck import (
    KnownSound,
    Pitch,
    cents_from_note,
    find_pitch,
    nearest_note,
    open_strings,
    string_number,
)

RATE_HZ = 44100.0


def note_hz(midi: int) -> float:
    return float(440.0 * 2.0 ** ((midi - 69) / 12.0))


def tone(
    f0_hz: float,
    *,
    levels: Sequence[float],
    inharmonicity: float = 0.0,
    length_s: float = 1.0,
    sigma: float = 2.0,
) -> np.ndarray:
    """Partials of the given amplitudes, decaying, higher ones faster."""
    t = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
    out = np.zeros(len(t))
    for n, level in enumerate(levels, start=1):
        hz = n * f0_hz * np.sqrt(1.0 + inharmonicity * n * n)
        if hz < 0.45 * RATE_HZ:
            out += level * np.exp(-sigma * (1 + hz / 1000.0) * t) * np.sin(2 * np.pi * hz * t + n)
    return out


def hiss(n: int, *, rms: float = 1e-4, seed: int = 1) -> np.ndarray:
    return rms * np.random.default_rng(seed).standard_normal(n)


def pitch_of(x: np.ndarray, *, quiet: np.ndarray | None = None) -> Pitch | None:
    return find_pitch(
        x[None],
        rate_hz=RATE_HZ,
        onset_s=0.0,
        end_s=len(x) / RATE_HZ,
        quiet=None if quiet is None else KnownSound(quiet[None]),
    )


def assert_named(
    x: np.ndarray, midi: int, *, quiet: np.ndarray | None = None, cents: float = 5.0
) -> None:
    pitch = pitch_of(x, quiet=quiet)
    assert pitch is not None
    assert nearest_note(pitch.f0_hz) == note_name(midi)
    assert 1200 * np.log2(pitch.f0_hz / note_hz(midi)) == pytest.approx(0.0, abs=cents)


@pytest.mark.parametrize("midi", range(30, 90, 3))  # F#1 to F6
def test_string_like_tones(midi: int) -> None:
    x = 0.1 * tone(note_hz(midi), levels=[1 / n for n in range(1, 25)])
    assert_named(x + hiss(len(x)), midi)


@pytest.mark.parametrize("midi", [30, 35, 40, 45, 52, 64])
@pytest.mark.parametrize(
    "levels",
    [
        [0.0, 1.0, 0.8, 0.6, 0.5, 0.4, 0.3, 0.2],
        [0.03, 0.05, 1.0, 0.8, 0.9, 0.7, 0.5, 0.4, 0.3, 0.3],
        [0.2, 1.0, 0.1, 0.8, 0.05, 0.6, 0.1, 0.4],
        [1.0, 0.0, 0.5, 0.0, 0.3, 0.0, 0.2],
        [1.0, 0.7, 0.5, 0.0, 0.3, 0.2, 0.1, 0.0],
    ],
    ids=[
        "no fundamental",
        "weak low partials",
        "strong octave",
        "odd only",
        "plucked at a quarter",
    ],
)
def test_uneven_partials(midi: int, levels: list[float]) -> None:
    x = 0.1 * tone(note_hz(midi), levels=levels)
    assert_named(x + hiss(len(x)), midi)


def test_octave_alone_is_the_octave() -> None:
    x = 0.1 * tone(note_hz(52), levels=[1 / n for n in range(1, 10)])
    assert_named(x + hiss(len(x)), 52)


@pytest.mark.parametrize("midi", [28, 40, 64])
def test_stiff_strings(midi: int) -> None:
    x = 0.1 * tone(note_hz(midi), levels=[1 / n for n in range(1, 20)], inharmonicity=2e-4)
    pitch = pitch_of(x + hiss(len(x)))
    assert pitch is not None
    first_hz = note_hz(midi) * np.sqrt(1.0 + 2e-4)
    assert 1200 * np.log2(pitch.f0_hz / first_hz) == pytest.approx(0.0, abs=2.0)


@pytest.mark.parametrize(("midi", "mains_hz"), [(35, 60.02), (31, 50.03), (30, 50.0), (40, 80.0)])
def test_hum_beside_the_fundamental(midi: int, mains_hz: float) -> None:
    """B1 is 61.7 Hz beside 60 Hz, G1 49.0 beside 50; the line is as strong as the note."""
    t = np.arange(round(2 * RATE_HZ)) / RATE_HZ
    hum = sum(0.05 / k * np.sin(2 * np.pi * k * mains_hz * t + k) for k in (1, 2, 3, 5, 7, 9))
    both = hum + hiss(len(t))
    x = both[: round(RATE_HZ)] + 0.05 * tone(note_hz(midi), levels=[1 / n for n in range(1, 20)])
    # Half of the first partials stand within a bin of a line; measure takes it from here.
    assert_named(x, midi, quiet=both[round(RATE_HZ) :], cents=10.0)


def test_what_rings_is_taken_off() -> None:
    """E4 plucked while E2 and G3 ring louder."""
    ringing = tone(note_hz(40), levels=[1 / n for n in range(1, 20)], length_s=2.0, sigma=0.3)
    ringing += tone(note_hz(55), levels=[1 / n for n in range(1, 20)], length_s=2.0, sigma=0.3)
    x = 0.1 * ringing + hiss(len(ringing))
    x[round(RATE_HZ) :] += 0.05 * tone(note_hz(64), levels=[1 / n for n in range(1, 20)])
    pitch = find_pitch(
        x[None], rate_hz=RATE_HZ, onset_s=1.0, end_s=2.0, ringing_since_s=0.0, same_string=False
    )
    assert pitch is not None
    assert nearest_note(pitch.f0_hz) == "E4"


@pytest.mark.parametrize("length_s", [0.06, 0.3, 1.0])
@pytest.mark.parametrize("colour", ["white", "brown"])
def test_noise_has_no_pitch(colour: str, length_s: float) -> None:
    for seed in range(10):
        x = hiss(round(length_s * RATE_HZ), seed=seed)
        assert pitch_of(np.cumsum(x) if colour == "brown" else x) is None


def test_too_short_has_no_pitch() -> None:
    assert pitch_of(tone(110.0, levels=[1.0, 0.5], length_s=0.02)) is None


@pytest.mark.parametrize(
    ("f0_hz", "a4_hz", "name", "cents"),
    [
        (82.4069, 440.0, "E2", 0.0),
        (92.4986, 440.0, "F#2", 0.0),
        (77.7817, 440.0, "D#2", 0.0),
        (110.0, 442.0, "A2", -7.8514),  # 442 against 440 Hz is 7.8514 cents
        (113.2, 440.0, "A2", 49.64),
    ],
)
def test_names_and_cents(f0_hz: float, a4_hz: float, name: str, cents: float) -> None:
    assert nearest_note(f0_hz, a4_hz=a4_hz) == name
    assert cents_from_note(f0_hz, a4_hz=a4_hz) == pytest.approx(cents, abs=0.02)


@pytest.mark.parametrize(
    ("note", "string"), [("E2", 6), ("G#2", 6), ("A2", None), ("D2", None), ("E6", 1), ("", None)]
)
def test_string_only_when_it_can_be_told(note: str, string: int | None) -> None:
    assert string_number(note, STANDARD_TUNING) == string


def test_open_strings_when_nothing_else_was_played() -> None:
    assert open_strings(["E2", "A2", "D3", "G3", "G3"], STANDARD_TUNING) == {
        "E2": 6,
        "A2": 5,
        "D3": 4,
        "G3": 3,
    }
    assert open_strings(["E2", "A2", "D3", "F3"], STANDARD_TUNING) == {}
    assert open_strings(["E2", "A2"], STANDARD_TUNING) == {}

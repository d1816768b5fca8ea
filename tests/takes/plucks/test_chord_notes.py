"""Which notes sound together: strummed by the string model, and real notes laid over each other.

Truth is which strings were played. The thresholds were chosen on seeds below 100 and on the single
notes of the sets with one file a note; the seeds here are others, and real notes laid over each
other were not used to choose anything.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import soundfile as sf

from tonecompare import strings as st
from tonecompare.session.note_names import note_number
from tonecompare.strings.instruments import humbucker, single_coil, standard_instrument
from tonecompare.takes.first_look import look
from tonecompare.takes.plucks.chord_names import chord_name
from tonecompare.takes.plucks.chord_notes import sounding_notes
from tonecompare.takes.plucks.cut_and_name import find_plucks, pooled_quiet

RATE_HZ = 44100.0
OPEN = (40, 45, 50, 55, 59, 64)
#: Frets of strings 6 … 1, None where a string is not played.
SHAPES = (
    (0, 2, 2, 1, 0, 0), (0, 2, 2, 0, 0, 0), (None, 0, 2, 2, 1, 0), (None, None, 0, 2, 3, 2),
    (3, 2, 0, 0, 0, 3), (None, 3, 2, 0, 1, 0), (0, 2, 0, 1, 0, 0), (None, 0, 2, 0, 2, 0),
    (None, 3, 2, 0, 0, 0), (None, None, 0, 2, 3, 3), (0, 2, 2, None, None, None),
    (1, 3, 3, 2, 1, 1), (3, 5, 5, 3, 3, 3), (None, 2, 4, 4, 4, 2), (1, 3, 1, 2, 1, 1),
)  # fmt: skip


def _strummed(seed: int, path: Path, *, count: int = 5) -> list[tuple[float, str]]:
    """Write a take of strums by a hand; return when each begins and what it is called."""
    rng = np.random.default_rng(seed)
    plucks: list[st.PluckSpec] = []
    truth = []
    for i in range(count):
        frets = SHAPES[int(rng.integers(len(SHAPES)))]
        played = [(6 - k, fret) for k, fret in enumerate(frets) if fret is not None]
        truth.append((3.0 + 3.0 * i, chord_name(OPEN[6 - s] + f for s, f in played)))
        order = played if rng.random() < 0.7 else played[::-1]
        spread_s = rng.uniform(0.01, 0.12) / (len(order) - 1)
        place_mm = rng.uniform(60.0, 160.0)
        for k, (string, fret) in enumerate(order):
            plucks.append(
                st.PluckSpec(
                    truth[-1][0] + k * spread_s + rng.normal(0.0, 0.002), string, fret,
                    position_mm=place_mm + rng.normal(0.0, 4.0),
                    strength_db=-14.0 + rng.normal(0.0, 2.0),
                    detune_cents=rng.normal(0.0, 4.0), angle_deg=rng.uniform(10.0, 60.0),
                    damp_s=2.6,
                )
            )  # fmt: skip
    pickup = (single_coil(45.0), single_coil(160.0), humbucker(45.0), humbucker(150.0))[seed % 4]
    st.render_recording(
        standard_instrument(),
        st.VoiceSpec("bridge", (st.Channel("magnetic", pickup),)),
        plucks,
        rng=rng,
        rate_hz=RATE_HZ,
        length_s=3.0 + 3.0 * count,
        noise=st.NoiseSpec(mains_hz=50.0, line_dbfs=(-75.0, -85.0, -80.0), hiss_dbfs=-85.0),
    ).write(path)
    return truth


def test_strums_are_one_event_each_and_named_by_what_was_played(tmp_path: Path) -> None:
    right, wrong = 0, []
    for seed in range(400, 408):
        truth = _strummed(seed, tmp_path / "bridge.wav")
        seen = look(tmp_path / "bridge.wav", outputs=("magnetic",))
        found = find_plucks(seen, pooled=pooled_quiet([seen]), a4_hz=440.0)
        for start_s, name in truth:
            events = [one.note for one in found if abs(min(one.channel_onset_s) - start_s) < 1.0]
            if events == [name]:
                right += 1
            else:
                wrong.append((seed, name, events))
    assert right >= 0.95 * (right + len(wrong)), wrong


def _real_notes(recordings: Path) -> Iterator[tuple[str, Path]]:
    for pattern in (
        "long-decays/[-1-6]*-*.flac",
        "two-guitars/*/ord/*.flac",
        "pickup-and-microphone/*/*.flac",
        "piezo-bass/*.flac",
    ):
        for path in sorted(recordings.glob(pattern)):
            yield path.name, path


def test_no_real_single_note_is_taken_for_a_chord(recordings: Path) -> None:
    plucks, chords = 0, []
    for name, path in list(_real_notes(recordings))[::3]:
        seen = look(path, outputs=("magnetic",))
        for one in find_plucks(seen, pooled=pooled_quiet([seen]), a4_hz=440.0):
            plucks += 1
            if one.chord:
                chords.append((name, one.note))
    assert plucks > 50
    assert not chords


def test_real_notes_laid_over_each_other_are_found(recordings: Path) -> None:
    rng = np.random.default_rng(11)
    notes: dict[int, list[np.ndarray]] = {}
    for path in sorted((recordings / "pickup-and-microphone" / "electric").glob("*.flac")):
        samples, rate_hz = sf.read(path, always_2d=True)
        assert rate_hz == RATE_HZ
        number = note_number(path.name.split("_")[0].upper())
        notes.setdefault(number, []).append(samples[: round(2.5 * RATE_HZ), 0])
    for _ in range(20):
        chosen = sorted(rng.choice(sorted(notes), size=int(rng.integers(2, 4)), replace=False))
        mix = 1e-6 * rng.standard_normal((1, round(3.2 * RATE_HZ)))
        for k, number in enumerate(chosen):
            sound = notes[number][int(rng.integers(len(notes[number])))]
            start = round((0.5 + 0.03 * k) * RATE_HZ)
            mix[0, start : start + sound.size] += sound / np.sqrt(np.mean(sound[2000:22000] ** 2))
        # A4 is the fourth partial of A2 and cannot be told from it.
        told = [n for n in chosen if not (n == note_number("A4") and note_number("A2") in chosen)]
        found = sounding_notes(mix, rate_hz=RATE_HZ, onset_s=0.5, end_s=3.0)
        assert list(found) == told


def test_a_bass_note_without_its_first_partial_is_no_chord() -> None:
    # Partials 2, 3, 5 of 77.8 Hz look like an open chord; 7 and 11 belong to one string.
    time_s = np.arange(round(2.0 * RATE_HZ)) / RATE_HZ
    tone = sum(np.cos(2.0 * np.pi * 77.8 * n * time_s) / n for n in range(2, 14))
    both = (0.1 * tone * np.exp(-time_s))[np.newaxis]
    assert sounding_notes(both, rate_hz=RATE_HZ, onset_s=0.0, end_s=2.0) == (39,)


def test_notes_slurred_into_each_other_are_no_chord() -> None:
    time_s = np.arange(round(2.0 * RATE_HZ)) / RATE_HZ

    def note(hz: float) -> np.ndarray:
        return np.asarray(sum(np.cos(2.0 * np.pi * hz * n * time_s) / n for n in range(1, 9)))

    later = time_s > 0.55
    slurred = 0.1 * np.where(later, note(261.6), note(220.0)) * np.exp(-time_s)
    both = 0.1 * (note(261.6) + note(220.0)) * np.exp(-time_s)
    where = {"rate_hz": RATE_HZ, "onset_s": 0.0, "end_s": 2.0}
    assert sounding_notes(slurred[np.newaxis], **where) == ()
    assert sounding_notes(both[np.newaxis], **where) == (57, 60)

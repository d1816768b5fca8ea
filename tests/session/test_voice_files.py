"""Names of files that mean a voice: patterns of ``session.toml``, near misses, conversion."""

from __future__ import annotations

import time
from pathlib import Path

import pytest

from tonecompare.errors import SessionError
from tonecompare.session import load_session, session_from_pair
from tonecompare.session.naming import closest, likeness
from tonecompare.session.sound_folders import FOREIGN_SUFFIXES


def lay(root: Path, toml: str | None, *files: str) -> Path:
    for name in files:
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).touch()
    if toml is not None:
        (root / "session.toml").write_text(toml, encoding="utf-8")
    return root


def voices(session, stage: str) -> dict[str, list[str]]:
    return {r.voice: [f.name for f in r.files] for r in session.recordings_of(stage)}


NECK = '[voices.neck]\nfiles = ["neck pickup*", "Take 03*"]\n[voices.bridge]\n'


def test_files_are_mapped_to_a_voice_in_every_stage(tmp_path):
    root = lay(
        tmp_path, NECK, "a/Neck Pickup.wav", "a/bridge.wav", "b/TAKE 03a.wav", "b/take 03b.flac",
        "b/bridge.wav",
    )  # fmt: skip
    session = load_session(root)
    assert voices(session, "a") == {"bridge": ["bridge.wav"], "neck": ["Neck Pickup.wav"]}
    assert voices(session, "b")["neck"] == ["TAKE 03a.wav", "take 03b.flac"]
    assert session.common_voices("a", "b") == ("bridge", "neck")
    assert not session.left_out
    pair = session_from_pair(root / "a", root / "b")
    assert voices(pair, "b") == voices(session, "b")


def test_a_mapped_name_keeps_its_ending_and_a_folder_is_mapped_too(tmp_path):
    root = lay(
        tmp_path, NECK, "a/neck pickup-again.wav", "a/neck pickup.wav", "b/neck pickup/E2.1.wav",
        "b/bridge.wav", "a/neck pickup-hands-on.wav",
    )  # fmt: skip
    session = load_session(root)
    assert set(voices(session, "a")) == {"neck", "neck-again", "neck-hands-on"}
    assert voices(session, "b")["neck"] == ["E2.1.wav"]


def test_a_pattern_may_carry_the_ending_and_signs_mean_themselves(tmp_path):
    toml = '[voices.neck]\nfiles = ["Take [1].wav", "br?cke"]\n'
    session = load_session(lay(tmp_path, toml, "a/Take [1].wav", "a/x.wav", "b/Brücke.wav"))
    assert set(voices(session, "a")) == {"neck", "x"}
    assert set(voices(session, "b")) == {"neck"}


@pytest.mark.parametrize(
    ("other", "claim"),
    [
        ('[voices.bridge]\nfiles = ["take*"]\n', r'"bridge" \("take\*"\)'),
        ('[voices."take 03"]\n', r'"take 03" \(its name\)'),
    ],
)
def test_a_file_that_two_voices_claim_is_refused(tmp_path, other, claim):
    root = lay(tmp_path, '[voices.neck]\nfiles = ["Take 03"]\n' + other, "a/Take 03.wav")
    with pytest.raises(SessionError, match=rf'"Take 03" is claimed by two voices.*{claim}'):
        load_session(root)


def test_a_pattern_that_hits_nothing_is_said_with_what_was_meant(tmp_path):
    root = lay(tmp_path, '[voices.neck]\nfiles = ["nek pickup*"]\n', "a/neck pickup.wav", "a/b.wav")
    root = lay(root, None, "b/b.wav", "a/neck.wav")
    said = [each for each in load_session(root).remarks if "no recording's name fits" in each]
    assert len(said) == 1
    assert '"nek pickup*"' in said[0]
    assert 'Did you mean "neck pickup"?' in said[0]


def test_a_pattern_with_a_folder_is_refused(tmp_path):
    root = lay(tmp_path, '[voices.neck]\nfiles = ["../a/neck*"]\n', "a/neck.wav")
    with pytest.raises(SessionError, match=r"voices.neck.files\[1\].*no folders"):
        load_session(root)


def test_a_described_voice_whose_file_is_named_otherwise_is_told_how_to_map(tmp_path):
    root = lay(tmp_path, "[voices.neck]\nsplit = true\n", "a/neck pickup 2.wav", "a/bridge.wav")
    with pytest.raises(SessionError) as caught:
        load_session(root)
    assert 'Did you mean "neck pickup 2"?' in str(caught.value)
    assert '[voices.neck] files = ["neck pickup 2"]' in str(caught.value)


def test_voices_without_partner_of_many_stages_are_one_sentence(tmp_path):
    files = [f"{stage}/{v}.wav" for stage in "bcdef" for v in ("neck", "bridge")]
    root = lay(tmp_path, None, *files, *(f"a/{v}.wav" for v in ("neck", "piezo", "blend")))
    said = [each for each in load_session(root).remarks if "nothing to compare" in each]
    assert len(said) == 1
    assert '"blend" and "piezo" of "a" (not at "b", "c", "d", "e" or "f")' in said[0]


@pytest.mark.parametrize(
    ("name", "allowed", "near"),
    [
        ("neck", ["bridge", "neck pickup"], "neck pickup"),
        ("Take 3 neck", ["bridge", "neck"], "neck"),
        ("bruecke", ["hals", "Brücke"], "Brücke"),
        ("Brucke", ["hals", "Brücke"], "Brücke"),
        ("senal", ["señal"], "señal"),
        ("neck-split", ["neck", "neck pickup split"], "neck pickup split"),
    ],
)
def test_near_misses_by_words_and_accents(name, allowed, near):
    assert closest(name, allowed, cutoff=0.75) == near


def test_a_voice_is_no_near_miss_of_its_split():
    assert closest("bridge", ["bridge-split", "bridge piezo"], cutoff=0.75) is None
    assert likeness("neck 1", "neck 2") < 0.9


@pytest.mark.parametrize("suffix", [".m4a", ".mov", ".mkv", ".avi", ".wma", ".3gp"])
def test_what_cannot_be_read_is_told_how_to_convert(tmp_path, suffix):
    assert suffix in FOREIGN_SUFFIXES
    session = load_session(lay(tmp_path, None, f"a/neck{suffix}", "a/bridge.wav", "b/bridge.wav"))
    (only,) = session.left_out
    assert only.file == f"a/neck{suffix}"
    assert "audio editor" in only.reason
    assert "WAV, 24 bit" in only.reason


def test_many_names_that_differ_by_number_only_are_asked_about(tmp_path):
    plucks = [f"a/twang_{note}_mf_rr{n}.wav" for note in ("a3", "e3") for n in range(1, 5)]
    root = lay(tmp_path, None, *plucks, "a/bridge.wav", "b/bridge.wav")
    (said,) = [each for each in load_session(root).remarks if "numbers only" in each]
    assert said.startswith('8 names like "twang_a3_mf_rr1"')
    assert '[voices.bridge]: files = ["twang_*"]' in said
    lay(root, '[voices.bridge]\nfiles = ["twang_*"]\n')
    session = load_session(root)
    assert len(session.recordings_of("a")) == 1
    assert not [each for each in session.remarks if "numbers only" in each]


def test_a_handful_of_numbered_voices_is_no_reason_to_ask(tmp_path):
    root = lay(tmp_path, None, *(f"{s}/position {n}.wav" for s in "ab" for n in range(1, 6)))
    assert not [each for each in load_session(root).remarks if "numbers only" in each]


def test_each_name_is_taken_for_one_other_at_most_and_all_are_one_sentence(tmp_path):
    files = [f"a/{v}.wav" for v in ("neck", "neck take", "bridge")]
    files += [f"b/{v}.wav" for v in ("neck pickup", "bridge pickup", "x")]
    session = load_session(lay(tmp_path, None, *files, "a/y.wav", "b/y.wav"))
    (said,) = [each for each in session.remarks if "look alike" in each]
    assert '"neck" and "neck pickup"' in said
    assert '[voices.bridge] files = ["bridge pickup"]' in said
    assert any('"neck take" of "a" (not at "b")' in each for each in session.remarks)


def test_a_thousand_voices_without_partner_take_no_noticeable_time(tmp_path):
    names = [f"{stage}/{number:04d}{stage * 9}.wav" for stage in "ab" for number in range(1000)]
    root = lay(tmp_path, None, *names, "a/y.wav", "b/y.wav")
    began = time.process_time()
    load_session(root)
    assert time.process_time() - began < 5.0

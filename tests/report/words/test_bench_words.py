"""Bench signs as sentences."""

from __future__ import annotations

import pytest

from tonecompare.compare.model import BenchSign
from tonecompare.measure.outputs.results import PiezoFinding
from tonecompare.report.words.bench_words import piezo_sentence, sign_sentence

TONES_HZ = (41, 114, 234, 508, 689, 1523, 2066, 9001)
SIGNS = [
    ("dead-spot", "F#3", 3.4, None, (4, 6.8, 3, 12),
     "F#3 on string 4 rings for 3.4 s (T60) where its neighbours suggest 6.8 s: a dead spot, "
     "by 3 plucks against the line of 12 other notes."),
    ("dead-spot", "F#3", 3.4, None, (None, 6.8, 3, 12), "F#3 rings for 3.4 s"),
    ("string-balance", "string 3", -5.853, 0.2, (3, 6),
     "String 3 is 5.9 dB (± 0.2 dB) softer than the line through the other strings (6 plucks)."),
    ("string-balance", "string 3", 4.0, 0.01, (3, 6), "4.0 dB (± 0.1 dB) louder than"),
    ("hands", "strings", 6.0, 0.1, ("",), "Never lift the protective earth."),
    ("hands", "strings", -3.0, 0.1, ("",), "Hum falls by 3.0 dB when the hands touch"),
    ("hands", "strings", 0.4, 0.1, ("",), "make less than 1 dB of difference"),
    ("hands", "strings", None, None, ("no line stands out",), "not be compared: no line stands"),
    ("coil-mismatch", "split", 5.0, 0.4, (-26.02, ""),
     "The whole pickup hums 26.0 dB less than the one coil of Split: its coils differ by about "
     "5.0 % (± 0.4 %)"),
    ("coil-mismatch", "split", None, None, (None, "no hum"), "is not determinable: no hum."),
    ("interference", "quiet", None, None, ("tones", TONES_HZ),
     "at 41, 114, 234, 508, 689, 1523 and 2 more Hz: a string that was not damped"),
    ("interference", "quiet", None, None, ("tones", (15625,)), "at 15625 Hz: "),
    ("interference", "quiet", None, None, ("bursts",), "Short bursts stand in the quiet"),
    ("outputs", "channels", None, None, (), "the two are exchanged. Delay, polarity and all else"),
    ("piezo", "piezo", 2.0, None, (PiezoFinding("hum", "piezo", 2.0, "dB"),),
     "Against its notes the piezo output hums 2.0 dB more"),
]  # fmt: skip
PIEZO = [
    (PiezoFinding("string-balance", "string 3", -6.0, "dB", 0.02),
     "On the piezo output string 3 is 6.0 dB (± 0.1 dB) weaker than the other strings"),
    (PiezoFinding("string-balance", "string 3", 6.0, "dB", 0.4), "(± 0.4 dB) stronger than"),
    (PiezoFinding("clipping", "piezo", 50.0, "%"), "50 % of the plucks have flattened peaks"),
    (PiezoFinding("handling", "piezo", 0.5, "per second", data=(-41.6,)),
     "0.5 knocks or rubs per second of quiet on the piezo output, up to −42 dBFS."),
    (PiezoFinding("crosstalk", "magnetic", -9.7, "dB"), "falls only 10 dB: the piezo output seems"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "where", "value", "uncertainty", "data", "said"), SIGNS)
def test_each_sign_has_its_sentence(
    kind: str,
    where: str,
    value: float | None,
    uncertainty: float | None,
    data: tuple[object, ...],
    said: str,
) -> None:
    sign = BenchSign("wren", "neck", "piezo", kind, where, value, "dB", uncertainty, data)
    assert said in sign_sentence(sign)


@pytest.mark.parametrize(("finding", "said"), PIEZO)
def test_each_piezo_finding_has_its_sentence(finding: PiezoFinding, said: str) -> None:
    assert said in piezo_sentence(finding)

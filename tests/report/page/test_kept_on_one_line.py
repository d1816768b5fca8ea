"""Numbers keep their units on their line, and long words may break in a narrow column."""

from __future__ import annotations

import pytest

from tonecompare.language import in_language
from tonecompare.report.page.layout import environment


@pytest.mark.parametrize(
    ("spoken", "text", "kept"),
    [
        ("en", "by 12 cents (4 kHz), 30 plucks, n = 5", "by 12~cents (4~kHz), 30~plucks, n~=~5"),
        ("en", "3 hotter pickups, 5 hums", "3 hotter pickups, 5 hums"),
        ("de", "um 12 Cent, 4 Anschläge, 6 Töne, 3,5 h", "um 12~Cent, 4~Anschläge, 6~Töne, 3,5~h"),
        ("de", "n = je 30 (± 0,6 dB)", "n~=~je~30 (±~0,6~dB)"),
    ],
)
def test_a_number_and_its_unit_stay_on_one_line(spoken, text, kept):
    with in_language(spoken):
        laid_out = environment().from_string("{{ text | together }}").render(text=text)
    assert laid_out.replace("\N{NO-BREAK SPACE}", "~") == kept


def test_long_words_of_a_language_may_break():
    with in_language("de"):
        said = (
            environment()
            .from_string("{{ text | hyphenated }}")
            .render(text="wahrscheinlich <hörbar>")
        )
    assert said == "wahrschein\N{SOFT HYPHEN}lich &lt;hörbar&gt;"
    plain = environment().from_string("{{ text | hyphenated }}").render(text="likely audible")
    assert plain == "likely audible"

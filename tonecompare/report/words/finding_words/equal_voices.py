"""Results that many voices of a comparison share, so that one sentence tells them.

Voices share a change where its verdict and direction are the same and their intervals have a value
in common; they share that nothing changed where all of them stayed within the threshold. The
interval told covers those of all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from tonecompare.language import tr
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import PARTIALS
from tonecompare.report.difference_views import Difference
from tonecompare.report.words.finding_words.tone_words import RESONANCE
from tonecompare.report.words.numbers import listed

#: Comparison, voice, output.
VoiceKey = tuple[str, str, str]
#: What changed on a voice, what did not.
Claims = tuple[list[Difference], list[Difference]]
#: From so many voices on, equal results are one sentence.
MANY = 3
#: Told voice by voice: a band, a partial or a resonance is of its own pickup.
_OF_ITS_OWN = frozenset((*BAND_SHAPES, *PARTIALS, RESONANCE))


@dataclass(frozen=True)
class EqualResults:
    """What some voices of one comparison share; ``changed`` and ``same`` stand for all of them."""

    comparison: str
    voices: tuple[str, ...]
    title: str
    changed: list[Difference]
    same: list[Difference]
    #: Every row that stands behind it.
    rows: tuple[Difference, ...]


def equal_results(
    of_voices: Mapping[VoiceKey, Claims], titles: Mapping[tuple[str, str], str]
) -> tuple[list[EqualResults], dict[VoiceKey, Claims]]:
    """Return what voices share, and what is left to tell of each.

    Parameters
    ----------
    of_voices
        What changed and what did not, by comparison, voice and output.
    titles
        How each voice and output is called.
    """
    left = {key: (list(changed), list(same)) for key, (changed, same) in of_voices.items()}
    shared: list[EqualResults] = []
    for comparison in dict.fromkeys(key[0] for key in of_voices):
        keys = [key for key in of_voices if key[0] == comparison]
        if len({voice for _, voice, _ in keys}) < MANY:
            continue
        found: dict[tuple[VoiceKey, ...], tuple[list[Difference], list[Difference]]] = {}
        behind: dict[tuple[VoiceKey, ...], list[Difference]] = {}
        for place, groups in ((0, _changed(keys, of_voices)), (1, _same(keys, of_voices))):
            for group in groups:
                members = tuple(key for key in keys if any(_key(row) == key for row in group))
                found.setdefault(members, ([], []))[place].append(_for_all(group))
                behind.setdefault(members, []).extend(group)
                for row in group:
                    left[_key(row)][place].remove(row)
        shared += [
            EqualResults(
                comparison, tuple(dict.fromkeys(voice for _, voice, _ in members)),
                _title(members, keys, titles), *claims, tuple(behind[members]),
            )
            for members, claims in found.items()
        ]  # fmt: skip
    return shared, left


def _key(row: Difference) -> VoiceKey:
    return row.comparison, row.voice, row.output


def _changed(
    keys: Sequence[VoiceKey], of_voices: Mapping[VoiceKey, Claims]
) -> Iterable[list[Difference]]:
    """Yield groups of rows of one quantity, verdict and direction whose intervals overlap."""
    alike: dict[tuple[str, str, bool], list[Difference]] = {}
    for key in keys:
        for row in of_voices[key][0]:
            if row.quantity not in _OF_ITS_OWN and None not in (row.difference, row.ci_low):
                way = (row.difference or 0.0) > 0.0
                alike.setdefault((row.quantity, row.verdict, way), []).append(row)
    for rows in alike.values():
        rows.sort(key=lambda row: row.difference or 0.0)
        best = max((_overlapping(rows[n:]) for n in range(len(rows))), key=len, default=[])
        if len({row.voice for row in best}) >= MANY:
            yield best


def _overlapping(rows: Sequence[Difference]) -> list[Difference]:
    """Return the first rows whose intervals all have a value in common."""
    kept: list[Difference] = []
    low, high = float("-inf"), float("inf")
    for row in rows:
        low, high = max(low, row.ci_low or 0.0), min(high, row.ci_high or 0.0)
        if low > high:
            break
        kept.append(row)
    return kept


def _same(
    keys: Sequence[VoiceKey], of_voices: Mapping[VoiceKey, Claims]
) -> Iterable[list[Difference]]:
    """Yield the rows of each quantity that changed on none of the voices."""
    alike: dict[str, list[Difference]] = {}
    for key in keys:
        for row in of_voices[key][1]:
            if row.quantity not in _OF_ITS_OWN and None not in (row.ci_low, row.ci_high):
                alike.setdefault(row.quantity, []).append(row)
    yield from (rows for rows in alike.values() if len(rows) == len(keys))


def _for_all(rows: Sequence[Difference]) -> Difference:
    """Return one row for all: the mean, with an interval that covers everyone's."""
    values = [row.difference or 0.0 for row in rows]
    middle = min(rows, key=lambda row: abs((row.difference or 0.0) - sum(values) / len(values)))
    return replace(
        middle,
        difference=sum(values) / len(values),
        ci_low=min(row.ci_low or 0.0 for row in rows),
        ci_high=max(row.ci_high or 0.0 for row in rows),
    )


def _title(
    members: Sequence[VoiceKey], keys: Sequence[VoiceKey], titles: Mapping[tuple[str, str], str]
) -> str:
    if len(members) == len(keys):
        return tr("All {n} voices", n=len({voice for _, voice, _ in keys}))
    return listed([titles[voice, output] for _, voice, output in members])

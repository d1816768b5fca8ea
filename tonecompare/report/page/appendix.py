"""The end of the page: remarks on files, hearing thresholds, inputs and settings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from tonecompare.compare.comparisons import Comparisons
from tonecompare.language import tr, tr_later, tr_n
from tonecompare.measure.model import Measurements
from tonecompare.quantities.octave_bands import BAND_SHAPES
from tonecompare.quantities.words import HEADLINE, PARTIALS, words_for
from tonecompare.report.page.view import InputView, ProblemView, ThresholdView
from tonecompare.report.words.file_remarks import file_remarks
from tonecompare.report.words.finding_words.left_open import threshold_words
from tonecompare.report.words.numbers import number, plain, with_unit
from tonecompare.session.model import LeftOut, Session

#: Files named beside one remark; the rest are counted (all stand in summary.json).
_FILES_NAMED = 6


def problem_views(measurements: Measurements) -> tuple[ProblemView, ...]:
    """Return each remark once, with the files it was made on."""
    files: dict[str, list[str]] = {}
    for record in measurements.files:
        for problem in file_remarks(record):
            files.setdefault(without_file(problem, record.file), []).append(record.file)
    return _each_once(files)


def left_out_views(items: Iterable[LeftOut]) -> tuple[ProblemView, ...]:
    """Return each reason for leaving files out once, with the files."""
    files: dict[str, list[str]] = {}
    for item in items:
        files.setdefault(without_file(tr(item.reason), item.file), []).append(item.file)
    return _each_once(files)


def notice_views(session: Session) -> tuple[ProblemView, ...]:
    """Return what is to be said of the folders and of ``session.toml``."""
    return tuple(ProblemView((tr("the session"),), tr(remark)) for remark in session.remarks)


def _each_once(files: Mapping[str, Sequence[str]]) -> tuple[ProblemView, ...]:
    return tuple(
        ProblemView(tuple(names[:_FILES_NAMED]), sentence, max(len(names) - _FILES_NAMED, 0))
        for sentence, names in files.items()
    )


def without_file(sentence: str, file: str) -> str:
    """Drop the file's name from the front of a sentence that stands beside it anyway."""
    before, found, rest = sentence.partition(f"{file}: ")
    if found and (not before or before.endswith("/")):
        sentence = rest
    return sentence[:1].upper() + sentence[1:]


#: The first of many columns that share a threshold, and what they are called together.
_ONE_OF_MANY = {PARTIALS[0]: tr_later("One partial"), BAND_SHAPES[0]: tr_later("One octave band")}


def threshold_views(comparisons: Comparisons) -> tuple[ThresholdView, ...]:
    """Return the hearing thresholds in use, quantities of one threshold in one row."""
    labels: dict[tuple[str, str], list[str]] = {}
    for record in comparisons.tables.get("thresholds", pd.DataFrame()).to_dict("records"):
        quantity = str(record["quantity"])
        if quantity not in HEADLINE and quantity not in _ONE_OF_MANY:
            continue
        label = tr(_ONE_OF_MANY.get(quantity) or words_for(quantity).label)
        limit = threshold_words(float(record["below"]), float(record["above"]), str(record["unit"]))
        key = (limit, str(record["source"]))
        labels.setdefault(key, []).append(label)
    return tuple(
        ThresholdView(", ".join(names), limit, tr(source))
        for (limit, source), names in labels.items()
    )


def input_views(measurements: Measurements) -> tuple[InputView, ...]:
    """Return every file that was read, with its form and hash."""
    return tuple(
        InputView(
            record.file,
            record.stage,
            record.voice,
            f"{number(record.rate_hz / 1000.0, 1)} kHz, {record.subtype.replace('_', ' ')}, "
            f"{tr_n('{n} channel', '{n} channels', record.channels)}, "
            f"{with_unit(record.length_s, 's')}",
            record.n_plucks,
            record.sha256,
        )
        for record in measurements.files
    )


def setting_views(session: Session) -> tuple[tuple[str, str], ...]:
    """Return the session's settings that change numbers, as names and words."""
    mains = tr("found in each recording") if session.mains_hz is None else with_unit(
        session.mains_hz, "Hz", uncertainty=0.05
    )  # fmt: skip
    changed = ", ".join(
        f"{name} {plain(value)}" for name, value in session.hearing_thresholds.items()
    )
    return (
        (tr("Mains frequency"), mains),
        (tr("Tuning reference"), with_unit(session.a4_hz, "Hz", uncertainty=0.5)),
        (tr("Hearing thresholds changed"), changed or tr("none")),
    )

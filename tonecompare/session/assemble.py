"""Put what ``session.toml`` says and what lies in the folders together into a :class:`Session`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from tonecompare.language import tr_later
from tonecompare.session.choose import choose_comparisons
from tonecompare.session.folders import find_recordings
from tonecompare.session.model import ComparisonSpec, LeftOut, Recording, Session, Stage
from tonecompare.session.naming import closest, listed, match_key
from tonecompare.session.overrides import OVERRIDES_FILE, stage_overrides
from tonecompare.session.sides import how_to_map, name_voices, settle_comparisons
from tonecompare.session.toml.crosscheck import check_comparisons
from tonecompare.session.toml.keys_without_effect import keys_without_effect
from tonecompare.session.toml.read import SessionFile
from tonecompare.session.toml.schema import Problems, dotted
from tonecompare.session.voice_files import (
    VoiceFiles,
    check_claims,
    perhaps_one_voice,
    voice_of_pluck,
)


def assemble(
    told: SessionFile,
    root: Path,
    stages: Mapping[str, Stage],
    *,
    left_out: Sequence[LeftOut] = (),
    notices: Sequence[str] = (),
    comparisons: Sequence[ComparisonSpec] | None = None,
    title: str | None = None,
) -> Session:
    """Find the recordings of all stages and settle voices and comparisons.

    ``comparisons`` is None for: those ``told`` names, or else chosen ones. A voice goes by the
    spelling in ``session.toml``, or else by that of the first stage that has it.
    """
    names = VoiceFiles.of(told.voices.values())
    recordings, missed = _recordings(told, root, stages, names)
    folders = {stage.name: stage.folder for stage in stages.values()}
    unused = check_claims(names, recordings, folders, voices=told.voices, file=told.path)
    _check_declared_voices(told, recordings)
    if comparisons is None:  # the whole session is looked at
        unused += keys_without_effect(told, {recording.voice for recording in recordings})
    unused += perhaps_one_voice(recording.voice for recording in recordings)
    unused += _plucks_by_name(recordings)
    unused += _rows_of_no_use(stages, recordings)
    heard = {recording.stage for recording in recordings}
    remarks: tuple[str, ...] = ()
    if comparisons is not None:
        wanted = tuple(comparisons)
    elif told.comparisons:
        wanted = _named_comparisons(told, stages)
    else:
        wanted, remarks = choose_comparisons({n: s for n, s in stages.items() if n in heard})
    wanted = name_voices(wanted, recordings, described=tuple(told.voices), file=told.path)
    session = Session(
        title=title or told.title,
        root=root,
        stages={n: _without_dangling_origin(s, stages) for n, s in stages.items()},
        recordings=recordings,
        instruments=told.instruments,
        conditions=told.conditions,
        voices=told.voices,
        comparisons=wanted,
        worth=told.worth,
        mains_hz=told.mains_hz,
        a4_hz=told.a4_hz,
        hearing_thresholds=told.hearing_thresholds,
        left_out=(*left_out, *missed),
        remarks=(*notices, *remarks, *unused),
        planned=told.planned,
        language=told.language,
        listen=told.listen,
    )
    settled = settle_comparisons(session)
    if settled.comparisons:
        return settled
    # What was chosen and then could not be compared is no news beside the reason.
    return replace(settled, remarks=tuple(r for r in settled.remarks if r not in remarks))


def _recordings(
    told: SessionFile, root: Path, stages: Mapping[str, Stage], names: VoiceFiles
) -> tuple[tuple[Recording, ...], list[LeftOut]]:
    spelling = list(told.voices)
    recordings: list[Recording] = []
    left_out: list[LeftOut] = []

    def name(path: Path) -> str:
        return path.relative_to(root).as_posix() if path.is_relative_to(root) else path.as_posix()

    for stage in stages.values():
        if not stage.folder.is_dir():
            continue
        found, missed = find_recordings(
            stage.folder, stage=stage.name, voices=spelling, name=name, names=names
        )
        recordings += found
        left_out += missed
        spelling += [each.voice for each in found if each.voice not in spelling]
    return tuple(recordings), left_out


def _plucks_by_name(recordings: Sequence[Recording]) -> tuple[str, ...]:
    """Say once that files were taken as plucks of the voice that their names begin with."""
    voices: dict[str, str] = {}
    for recording in recordings:
        named = next((p.stem for p in recording.files if p.stem.startswith(recording.voice)), "")
        if voice_of_pluck(named, (match_key(recording.voice),)) == recording.voice:
            voices.setdefault(recording.voice, named)
    if not voices:
        return ()
    return (
        tr_later(
            "Files named like {name} were taken as plucks of one voice each: {voices}.",
            name=listed([next(iter(voices.values()))]),
            voices=listed(voices),
        ),
    )


def _rows_of_no_use(
    stages: Mapping[str, Stage], recordings: Sequence[Recording]
) -> tuple[str, ...]:
    """Read every ``takes.csv``, and say which of its files no recording uses.

    Raises
    ------
    SessionError
        When one cannot be used: better now than after an hour of measuring.
    """
    used = {path for recording in recordings for path in recording.files}
    said = []
    for stage in stages.values():
        rows = stage_overrides(stage.folder)
        idle = [
            name for name in dict.fromkeys(f for f, _ in rows) if stage.folder / name not in used
        ]
        if idle:
            said.append(
                tr_later(
                    "{stage}, {file}: rows of {names} have no effect, as no recording uses the "
                    "file.",
                    stage=stage.name,
                    file=OVERRIDES_FILE,
                    names=listed(idle),
                )
            )
    return tuple(said)


def _without_dangling_origin(stage: Stage, stages: Mapping[str, Stage]) -> Stage:
    return stage if stage.from_stage in stages else replace(stage, from_stage=None)


def _check_declared_voices(told: SessionFile, recordings: Sequence[Recording]) -> None:
    """Refuse a described voice that nobody recorded when one with nearly its name was."""
    recorded = {recording.voice for recording in recordings}
    undescribed = recorded - told.voices.keys()
    problems = Problems(told.path)
    for voice in told.voices.keys() - recorded if undescribed else ():
        near = closest(voice, sorted(undescribed), cutoff=0.8)
        if near is not None:
            problems.add(
                dotted("voices", voice),
                tr_later(
                    'no recording is named "{voice}". Did you mean "{near}"? {how}',
                    voice=voice,
                    near=near,
                    how=how_to_map({voice: near}, told.voices),
                ),
            )
    problems.raise_if_any()


def _named_comparisons(
    told: SessionFile, stages: Mapping[str, Stage]
) -> tuple[ComparisonSpec, ...]:
    """Return the named comparisons; when stages are bare folders their names are checked now."""
    if told.stages:
        return told.comparisons
    problems = Problems(told.path)
    raw = [{k: v for k, v in vars(spec).items() if v is not None} for spec in told.comparisons]
    check_comparisons(raw, {name: {} for name in stages}, problems)
    problems.raise_if_any()
    return tuple(ComparisonSpec(**each) for each in raw)

"""The film, drawn, coded and decoded again: frame by frame and sample by sample."""

from __future__ import annotations

import time

import numpy as np
import pytest
from matplotlib.colors import to_rgb
from small_takes import take, write

from tonecompare.errors import InputError
from tonecompare.measure.model import PhraseCurve
from tonecompare.report.sounds.aligned import SoundReader, common_loudness
from tonecompare.report.sounds.cuts import Cut
from tonecompare.report.sounds.selection import SoundPair
from tonecompare.report.video import film_file
from tonecompare.report.video.film_frames import film_frames
from tonecompare.report.video.film_plan import (
    FilmPlan,
    frame_rate,
    levels_of,
    phrase_time_s,
    scene_of,
)
from tonecompare.report.video.shapes import LOOKS, SHAPES, Screen

RATE = 44_100
SMALL = Screen("small", 480, 270)
DARK = LOOKS["dark"]


def made_plan(folder, *, f0_hz=110.0, phrases=None, words="Bridge: 5.7 dB quieter (5.2 to 6.2)."):
    write(folder / "a.wav", take(gain=0.3, seed=1))
    write(folder / "b.wav", take(gain=0.1, slope=1.5, seed=2))
    cuts = [(Cut("A2", f, 1, 2.0 + 3 * 1.6, 1.0, 4, f0_hz),) for f in ("a.wav", "b.wav")]
    pair = SoundPair("a to b", ("a", "b"), "bridge", "magnetic", "A2", *cuts)
    sounds = SoundReader(folder).aligned((*pair.before, *pair.after))
    scene = scene_of(
        pair,
        sounds,
        loudness_lkfs=common_loudness(sounds),
        fps=30,
        title="Bridge",
        words=words,
        phrases=phrases or {},
    )
    return FilmPlan((scene, scene), RATE, 30)


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return made_plan(tmp_path_factory.mktemp("film"))


def test_the_sound_is_the_clips_own_and_turns_begin_on_frames(plan):
    sound = plan.sound()
    assert sound.size == plan.frames * plan.frame_samples == plan.frames * 1470
    scene = plan.scenes[0]
    for turn in range(4):
        start = turn * scene.turn_frames * 1470
        values = scene.values[turn % 2]
        np.testing.assert_array_equal(sound[start : start + values.size], values)
        assert not sound[start + values.size : start + scene.turn_frames * 1470].any()
        assert scene.side_at(turn * scene.turn_frames) == turn % 2
        assert scene.side_at((turn + 1) * scene.turn_frames - 1) == turn % 2
    assert scene.side_at(4 * scene.turn_frames) is None
    # The second scene begins where the first one's words end.
    np.testing.assert_array_equal(
        sound[scene.frames * 1470 :][: scene.values[0].size], scene.values[0]
    )


def test_levels_are_those_of_a_decaying_sine():
    # Half of full scale (-6.02 dB) at the onset, falling by 20 dB a second.
    at = np.arange(2 * RATE) / RATE
    levels = levels_of(0.5 * 10 ** (-at) * np.sin(2 * np.pi * 440 * at), RATE, 1470, 60, 440.0)
    middle = (np.arange(60) + 0.5) / 30
    inside = slice(3, 56)
    np.testing.assert_allclose(levels.partials_db[inside, 0], -6.02 - 20 * middle[inside], atol=1.0)
    loudest = np.argmax(levels.spectrum_db[10])
    edges = np.geomspace(50, 10_000, 97)
    assert edges[loudest - 1] <= 440 <= edges[loudest + 2]
    # A frame sees what sounds while it stands, not what comes 100 ms later.
    late = np.zeros(RATE)
    late[RATE // 2 :] = 0.5
    late *= np.sin(2 * np.pi * 440 * np.arange(RATE) / RATE)
    seen = levels_of(late, RATE, 1470, 30, 440.0).partials_db[:, 0] > -40
    assert 13 <= int(np.argmax(seen)) <= 15


def test_rates_without_whole_frames_are_refused():
    assert [frame_rate(rate) for rate in (44_100, 48_000, 96_000, 22_050, 8_000)] == [
        30, 30, 30, 30, 25,
    ]  # fmt: skip
    with pytest.raises(InputError, match="not 44101 Hz"):
        frame_rate(44_101)


@pytest.mark.parametrize("name", ["video", "portrait", "square"])
def test_frames_are_drawn_for_every_screen(plan, name):
    frames = film_frames(plan, SHAPES[name], DARK)
    first = next(frames)
    assert first.shape == (SHAPES[name].height, SHAPES[name].width, 3)
    second = next(frames)
    assert (first != second).any()


def test_a_chord_has_no_partials_and_long_words_are_cut(tmp_path):
    long = made_plan(tmp_path, f0_hz=float("nan"), words="A sentence of some length. " * 40)
    assert long.scenes[0].levels[0].partials_db.shape[1] == 0
    frames = list(film_frames(FilmPlan(long.scenes[:1], RATE, 30), SMALL, DARK))
    assert len(frames) == long.scenes[0].frames
    margin = frames[-1][-26:]
    assert (margin == margin[0, 0]).all()


def test_without_the_encoder_a_sentence_says_what_to_install(plan, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "av", None)
    with pytest.raises(InputError, match=r"tonecompare\[film\]"):
        film_file.write_film(plan, tmp_path / "x.mp4", screen=SMALL, look=DARK)
    assert list(tmp_path.iterdir()) == []


@pytest.fixture(scope="module")
def decoded(plan, tmp_path_factory):
    av = pytest.importorskip("av")
    found = {}
    for kind in ("mov", "mp4"):
        path = tmp_path_factory.mktemp("coded") / f"film.{kind}"
        film_file.write_film(plan, path, screen=SMALL, look=DARK)
        assert [one.name for one in path.parent.iterdir()] == [path.name]
        with av.open(str(path)) as file:
            pictures = [
                (one.time, one.to_ndarray(format="rgb24", src_colorspace="ITU709"))
                for one in file.decode(video=0)
            ]
        with av.open(str(path)) as file:
            blocks = [(one.pts, one.to_ndarray()) for one in file.decode(audio=0)]
        found[kind] = (pictures, blocks)
    return found


class TestDecodedAgain:
    """What an independent reader of the file finds in it."""

    @pytest.mark.parametrize("kind", ["mov", "mp4"])
    def test_every_frame_is_there_at_its_time(self, plan, decoded, kind):
        pictures, _ = decoded[kind]
        assert len(pictures) == plan.frames
        times = [at for at, _ in pictures]
        np.testing.assert_allclose(times, np.arange(plan.frames) / 30, atol=1e-4)
        drawn = list(film_frames(plan, SMALL, DARK))
        turn = plan.scenes[0].turn_frames
        for number, (_, seen) in enumerate(pictures):
            off = np.abs(seen.astype(int) - drawn[number]).mean()
            assert off < 4.0, number
        # At each change of side the picture is the new one at once, and was not before.
        for change in (turn, 2 * turn, 3 * turn, 4 * turn, plan.scenes[0].frames):
            for number in (change - 1, change):
                seen = pictures[number][1].astype(int)
                offs = {k: np.abs(seen - drawn[k]).mean() for k in (change - 1, change)}
                assert min(offs, key=offs.get) == number

    def test_samples_are_the_clips_own_in_the_plain_file(self, plan, decoded):
        _, blocks = decoded["mov"]
        samples = np.concatenate([one[0] for _, one in blocks])
        np.testing.assert_array_equal(samples[: plan.sound().size] >> 8, plan.sound())

    def test_coded_sound_lies_on_its_sample(self, plan, decoded):
        _, blocks = decoded["mp4"]
        start = blocks[0][0]
        coded = np.concatenate([one[0] for _, one in blocks])
        wanted = plan.sound() / 2.0**23
        size = 40_000
        at = plan.scenes[0].turn_frames * 1470  # where B begins
        piece = wanted[at : at + size]
        near = [
            float(np.dot(coded[at - start + lag : at - start + lag + size], piece))
            for lag in range(-40, 41)
        ]
        assert int(np.argmax(near)) - 40 == 0

    def test_it_is_written_faster_than_it_plays(self, plan, tmp_path):
        pytest.importorskip("av")
        started = time.process_time()
        film_file.write_film(plan, tmp_path / "x.mp4", screen=SHAPES["video"], look=DARK)
        # Work of both cores together; a busy machine does not count.
        assert time.process_time() - started < 2 * plan.frames / plan.fps


def test_of_a_riff_the_phrase_is_drawn_and_a_cursor_goes_along_in_its_time(tmp_path):
    time_s = np.linspace(0.0, 1.0, 26)

    def curve(own_s):
        level = np.linspace(-10.0, -30.0, 26)
        return PhraseCurve(time_s, level, level * 0.0 + 1000.0, (0.0, 0.5), own_s, 0.0)

    # The second side is played a tenth slower: 0.55 s into it is the middle of the phrase.
    phrases = {("a.wav", 1, 4): curve(time_s), ("b.wav", 1, 4): curve(1.1 * time_s)}
    assert phrase_time_s(phrases["b.wav", 1, 4], 0.55 + 0.01) == pytest.approx(0.5)
    plan = made_plan(tmp_path, f0_hz=float("nan"), phrases=phrases)
    bare = made_plan(tmp_path, f0_hz=float("nan"))
    assert plan.scenes[0].phrase is not None
    frames = list(film_frames(plan, SMALL, DARK))[: plan.scenes[0].turn_frames]
    plain = next(film_frames(bare, SMALL, DARK))
    assert (frames[0] != plain).any()
    colour = np.round(255.0 * np.array(to_rgb(DARK.before))).astype(np.uint8)
    columns = []
    for frame in frames:
        there = (frame == colour).all(axis=2)[SMALL.height // 3 :, SMALL.width // 2 :]
        columns.append(int(np.argmax(there.sum(axis=0))))
    assert columns == sorted(columns)
    assert columns[-1] - columns[0] > SMALL.width // 5

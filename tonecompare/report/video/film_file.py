"""Pictures and sound into one file, with the encoder that PyAV brings along (extra ``film``)."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tonecompare.errors import InputError
from tonecompare.language import tr
from tonecompare.report.video.film_frames import Pixels, film_frames
from tonecompare.report.video.film_plan import FilmPlan
from tonecompare.report.video.shapes import Look, Screen

#: Near what cannot be told from the original, and fast enough for real time on two cores.
_PICTURE = {"crf": "18", "preset": "veryfast", "tune": "animation"}
_SOUND_BITS = 256_000
_BT709 = 1
_LIMITED_RANGE = 1
#: Samples handed over at a time.
_BLOCK = 1024


def write_film(
    plan: FilmPlan,
    out: Path,
    *,
    screen: Screen,
    look: Look,
    progress: Callable[[int, int, str], None] | None = None,
) -> None:
    """Write a film: H.264 and AAC in ``.mp4``, or H.264 and the samples themselves in ``.mov``.

    Every frame lasts a whole number of samples, and a turn begins on a frame and on its sample.
    The file appears whole or not at all.

    Raises
    ------
    InputError
        When PyAV is not installed.
    """
    av = _av()
    out.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=out.parent, prefix=".film-unfinished-") as folder:
        path = Path(folder) / out.name
        with av.open(str(path), "w", options=_options(out)) as file:
            _encode(av, file, plan, screen, look, progress, plain=out.suffix == ".mov")
        path.replace(out)


def require_encoder() -> None:
    """Raise :class:`InputError` at once when PyAV is not installed."""
    _av()


def _av() -> Any:
    try:
        import av
    except ImportError as error:
        raise InputError(
            tr(
                'A film needs PyAV: install it with  pip install "tonecompare[film]"  and run this '
                "again."
            )
        ) from error
    return av


def _options(out: Path) -> dict[str, str]:
    return {"movflags": "+faststart"} if out.suffix in (".mp4", ".mov") else {}


def _encode(
    av: Any, file: Any, plan: FilmPlan, screen: Screen, look: Look,
    progress: Callable[[int, int, str], None] | None, *, plain: bool,
) -> None:  # fmt: skip
    picture = file.add_stream("libx264", rate=plan.fps, options=_PICTURE)
    picture.width, picture.height, picture.pix_fmt = screen.width, screen.height, "yuv420p"
    picture.codec_context.thread_count = 2
    for name in ("colorspace", "color_primaries", "color_trc"):
        setattr(picture.codec_context, name, _BT709)
    picture.codec_context.color_range = _LIMITED_RANGE
    sound = file.add_stream("pcm_s24le" if plain else "aac", rate=plan.rate_hz, layout="mono")
    if not plain:
        sound.bit_rate = _SOUND_BITS
    blocks = _sound_frames(av, plan, plain=plain)
    played = 0
    for number, pixels in enumerate(film_frames(plan, screen, look)):
        file.mux(picture.encode(_picture_frame(av, pixels, number, plan.fps)))
        # Sound follows the picture closely, so that the file plays while it loads.
        while played < (number + 1) * plan.frame_samples:
            block = next(blocks, None)
            if block is None:
                break
            played += block.samples
            file.mux(sound.encode(block))
        if progress is not None:
            progress(number + 1, plan.frames, "")
    for block in blocks:
        file.mux(sound.encode(block))
    file.mux(picture.encode())
    file.mux(sound.encode())


def _picture_frame(av: Any, pixels: Pixels, number: int, fps: int) -> Any:
    frame = av.VideoFrame.from_ndarray(np.ascontiguousarray(pixels), format="rgb24")
    frame = frame.reformat(format="yuv420p", dst_colorspace="ITU709", dst_color_range="MPEG")
    frame.pts, frame.time_base = number, Fraction(1, fps)
    return frame


def _sound_frames(av: Any, plan: FilmPlan, *, plain: bool) -> Iterator[Any]:
    values = plan.sound()
    for start in range(0, values.size, _BLOCK):
        part: NDArray[np.int32] = values[start : start + _BLOCK][None, :]
        if plain:
            frame = av.AudioFrame.from_ndarray(part * 256, format="s32", layout="mono")
        else:
            floats = (part / 2.0**23).astype(np.float32)
            frame = av.AudioFrame.from_ndarray(floats, format="fltp", layout="mono")
        frame.sample_rate, frame.pts = plan.rate_hz, start
        frame.time_base = Fraction(1, plan.rate_hz)
        yield frame

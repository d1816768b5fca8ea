"""Every text of a picture for screens, with the place it takes."""

from __future__ import annotations

from matplotlib.backends.backend_agg import FigureCanvasAgg

from tonecompare.report.video.slide import Slide


def text_boxes(slide: Slide) -> list[tuple[str, float, float, float, float, float]]:
    """Return every text drawn: itself, its box in pixels (left, top, right, bottom) and height."""
    canvas = FigureCanvasAgg(slide.figure)
    renderer = canvas.get_renderer()
    slide.figure.draw_without_rendering()
    texts = list(slide.figure.texts)
    for axes in slide.figure.axes:
        texts += [*axes.texts, *axes.get_xticklabels(), *axes.get_yticklabels()]
    found = []
    for text in texts:
        if not text.get_text().strip() or not text.get_visible():
            continue
        box = text.get_window_extent(renderer)
        height = float(slide.shape.height)
        size = float(text.get_fontsize()) / 72.0 * slide.figure.dpi
        found.append((text.get_text(), box.x0, height - box.y1, box.x1, height - box.y0, size))
    return found

"""The report in a real browser: nothing wider than the window, on a phone and on a desk."""

from __future__ import annotations

import importlib.util
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tonecompare.report import write_report

CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on the PATH"),
]

_MEASURE = """<script>
document.querySelectorAll("details").forEach((one) => { one.open = true; });
const wide = [...document.querySelectorAll("body *")].filter(
  (e) => !e.closest(".scroll") && !e.closest(".unseen") && !e.classList.contains("skip")
    && e.getBoundingClientRect().right > innerWidth + 1);
const broken = [...document.images].filter((i) => !(i.complete && i.naturalWidth > 0));
document.title = ["measured", innerWidth, document.documentElement.scrollWidth, wide.length,
  broken.length, document.images.length,
  (wide[0] ? wide[0].outerHTML.slice(0, 120) : "")].join("|");
</script></body>"""


def _story_module():
    """The invented rewind of the report's own tests."""
    path = Path(__file__).resolve().parents[1] / "report" / "conftest.py"
    spec = importlib.util.spec_from_file_location("report_story", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def page(tmp_path_factory):
    root = tmp_path_factory.mktemp("browser")
    story = _story_module().build(
        root, title="A very long title of a report that has to wrap somewhere: " + "x" * 60
    )
    return write_report(story.session, story.measurements, story.comparisons, root / "report")


def _chromium(*arguments: str, profile: Path) -> str:
    assert CHROMIUM is not None
    return subprocess.run(
        [
            CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", f"--user-data-dir={profile}", "--hide-scrollbars", *arguments,
        ],
        check=True, capture_output=True, text=True, timeout=60,
    ).stdout  # fmt: skip


@pytest.mark.parametrize(("width", "height"), [(360, 800), (1280, 900)])
def test_nothing_is_wider_than_the_window(page, tmp_path, width, height):
    html = (page / "index.html").read_text(encoding="utf-8")
    copy = page / f"copy-{width}.html"
    html = html.replace("Content-Security-Policy", "none")  # lets in the measuring script
    copy.write_text(html.replace("</body>", _MEASURE), encoding="utf-8")
    dom = _chromium(
        "--dump-dom", f"--window-size={width},{height}", copy.as_uri(), profile=tmp_path
    )
    (title,) = re.findall(r"<title>(measured\|[^<]*)</title>", dom)
    _, inner, scroll, wide, broken, images, what = title.split("|", 6)
    assert int(inner) <= max(width, 500)
    assert int(scroll) <= int(inner)
    assert int(wide) == 0, what
    assert int(images) == 16
    assert int(broken) == 0


def test_the_page_prints(page, tmp_path):
    pdf = tmp_path / "page.pdf"
    _chromium(
        f"--print-to-pdf={pdf}", "--no-pdf-header-footer", (page / "index.html").as_uri(),
        profile=tmp_path / "profile",
    )  # fmt: skip
    data = pdf.read_bytes()
    assert data.startswith(b"%PDF")
    # A4 is 210 x 297 mm: 595 x 842 points.
    assert re.search(rb"/MediaBox \[0 0 59[45][.\d]* 84[12][.\d]*\]", data)

"""A headless Chromium driven over its own debugging pipe: no driver, no socket, no dependency.

The DevTools protocol runs over two pipes (``--remote-debugging-pipe``): JSON messages ended by a
zero byte, written to its file descriptor 3 and read from 4.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = next(
    filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None
)
in_browser = [
    pytest.mark.browser,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on the PATH"),
]
#: Width and height of paper in inches.
PAPERS_IN = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
_OPTIONS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--hide-scrollbars",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--autoplay-policy=no-user-gesture-required", "--remote-debugging-pipe",
)  # fmt: skip
#: Puts two pipes where Chromium looks for them and becomes it.
_AT_3_AND_4 = """
import fcntl, os, sys
reads, writes = (fcntl.fcntl(int(end), fcntl.F_DUPFD, 10) for end in sys.argv[1:3])
os.dup2(reads, 3)
os.dup2(writes, 4)
os.execv(sys.argv[3], sys.argv[3:])
"""


class Tab:
    """One page in the browser."""

    def __init__(self, send: int, receive: int) -> None:
        self._send = send
        self._receive = os.fdopen(receive, "rb")
        self._unread = b""
        self._number = 0
        self._session = ""
        target = self.call("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.call("Target.attachToTarget", targetId=target, flatten=True)[
            "sessionId"
        ]
        for domain in ("Page", "Runtime"):
            self.call(f"{domain}.enable")

    def call(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Call a method of the protocol and return its result."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._send, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                result: dict[str, Any] = answer["result"]
                return result

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._unread:
            more = self._receive.read1(1 << 20)
            if not more:
                raise RuntimeError("Chromium is gone.")
            self._unread += more
        line, _, self._unread = self._unread.partition(b"\0")
        message: dict[str, Any] = json.loads(line)
        return message

    def screen(self, width: int, height: int = 900, *, dark: bool = False, zoom: float = 1) -> None:
        """Set the window in CSS pixels at 100 %, light or dark; ``zoom`` 2 is 200 %."""
        self.call(
            "Emulation.setDeviceMetricsOverride", width=round(width / zoom),
            height=round(height / zoom), deviceScaleFactor=zoom, mobile=False,
        )  # fmt: skip
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.call("Emulation.setEmulatedMedia", media="", features=[scheme])

    def open(self, page: Path) -> None:
        """Open a file and wait until it and its pictures are there."""
        self.call("Page.navigate", url=page.as_uri())
        while True:
            if self._next().get("method") == "Page.loadEventFired":
                break
        self.run("Promise.all([...document.images].map((i) => i.decode().catch(() => 0)))")

    def run(self, script: str) -> Any:
        """Return what an expression (or the promise it gives) is worth, as from JSON.

        Runs whatever the page's Content-Security-Policy says: it is the debugger's.
        """
        answer = self.call(
            "Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True,
            userGesture=True,
        )  # fmt: skip
        if "exceptionDetails" in answer:
            raise RuntimeError(json.dumps(answer["exceptionDetails"])[:800])
        return answer["result"].get("value")

    def press(self, key: str, text: str = "") -> None:
        """Press and release a key on whatever has the focus."""
        code = {"Tab": 9, "Enter": 13, " ": 32, "Escape": 27}.get(key, ord(key[0].upper()))
        for kind in ("keyDown", "keyUp"):
            typed = {"text": text} if text and kind == "keyDown" else {}
            self.call(
                "Input.dispatchKeyEvent", type=kind, key=key, windowsVirtualKeyCode=code, **typed
            )

    def pdf(self, paper: str) -> bytes:
        """Print on paper that the page does not choose."""
        width, height = PAPERS_IN[paper]
        data = self.call(
            "Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=False,
            preferCSSPageSize=False, marginTop=0.4, marginBottom=0.4, marginLeft=0.4,
            marginRight=0.4,
        )["data"]  # fmt: skip
        return base64.b64decode(data)

    def picture(self, *, whole: bool = False) -> bytes:
        """Return a PNG of the window, or of the whole page."""
        data = self.call("Page.captureScreenshot", captureBeyondViewport=whole)["data"]
        return base64.b64decode(data)


def pages_of(pdf: bytes) -> int:
    """Count the pages of a PDF as Chromium writes it."""
    return pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") + pdf.count(b"/Type /Page/")


@contextmanager
def browser(profile: Path, *, seconds: float = 120.0) -> Iterator[Tab]:
    """Start a Chromium with its own profile and end it, whatever happens, after ``seconds``."""
    assert CHROMIUM is not None
    to_read, to_write = os.pipe()
    from_read, from_write = os.pipe()
    started = subprocess.Popen(
        [
            sys.executable, "-c", _AT_3_AND_4, str(to_read), str(from_write),
            CHROMIUM, *_OPTIONS, f"--user-data-dir={profile}",
        ],
        pass_fds=(to_read, from_write), start_new_session=True,
        stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    os.close(to_read)
    os.close(from_write)

    def end() -> None:
        if started.poll() is None:
            os.killpg(started.pid, signal.SIGKILL)

    watch = threading.Timer(seconds, end)
    watch.start()
    tab: Tab | None = None
    try:
        tab = Tab(to_write, from_read)
        yield tab
    finally:
        watch.cancel()
        end()
        started.wait(timeout=10)
        os.close(to_write)
        if tab is not None:
            tab._receive.close()

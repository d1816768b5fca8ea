"""Ctrl-C is heard even where Python drops it."""

from __future__ import annotations

import signal
import sys

import pytest

from tonecompare.workers.ctrl_c import Stop


class Finalized:
    def __del__(self):
        signal.raise_signal(signal.SIGINT)


def test_a_stop_that_a_finalizer_swallows_is_raised_at_the_next_step(monkeypatch):
    dropped = []
    monkeypatch.setattr(sys, "unraisablehook", lambda told: dropped.append(told.exc_type))
    # A program that ended in this process leaves Ctrl-C ignored.
    before, stop = signal.signal(signal.SIGINT, signal.default_int_handler), Stop()
    stop.listen()
    try:
        stop.raise_if_asked()
        Finalized()
        assert dropped == [KeyboardInterrupt]
        with pytest.raises(KeyboardInterrupt):
            stop.raise_if_asked()
        stop.leave()
        assert signal.getsignal(signal.SIGINT) is signal.default_int_handler
    finally:
        stop.leave()
        signal.signal(signal.SIGINT, before)

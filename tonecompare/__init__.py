"""Tonecompare: measure what work on a guitar changed, from DI recordings made before and after."""

from __future__ import annotations

__version__ = "0.1.0"

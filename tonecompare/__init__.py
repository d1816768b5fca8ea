"""Tonecompare: measure what work on a guitar changed, from DI recordings made before and after.

Contents
--------
In a line each
    measure, compare, report, load      ``tonecompare.front``
What was recorded
    load_session, session_from_pair     ``tonecompare.session``
What takes are made of
    load_takes                          ``tonecompare.takes``
What was measured
    measure_session                     ``tonecompare.measure``
What changed
    compare_session, find_worth         ``tonecompare.compare``
What people read
    write_report                        ``tonecompare.report``

Names load when first used: importing this package loads neither NumPy nor anything else heavy.

Examples
--------
Two folders of recordings::

    import tonecompare as tc
    r = tc.compare("heron-stock", "heron-rewound")
    r.differences; r.findings; r.voices
    r.plot.spectrum("bridge")
    r.save("heron.tc")

Step by step, a report of a session folder::

    session = tonecompare.load_session(Path("heron"))
    measurements = tonecompare.measure_session(session, workers=2)
    comparisons = tonecompare.compare_session(session, measurements)
    tonecompare.write_report(session, measurements, comparisons, Path("reports/heron"))
"""

from __future__ import annotations

import sys

from tonecompare.lazy import FrontPackage, lazily

TYPE_CHECKING = False  # see tonecompare.lazy
if TYPE_CHECKING:
    from tonecompare.compare import compare_session, find_worth
    from tonecompare.front import compare as compare
    from tonecompare.front import load as load
    from tonecompare.front import measure as measure
    from tonecompare.front import report as report
    from tonecompare.measure import measure_session
    from tonecompare.report import write_report
    from tonecompare.session import load_session, session_from_pair
    from tonecompare.takes import load_takes

__version__ = "0.1.0"

#: Rooms that are functions too: ``tonecompare.measure("neck.wav")``.
_CALLABLE = ("compare", "measure", "report")
_HOME = {
    "compare": "compare",
    "compare_session": "compare",
    "find_worth": "compare",
    "load": "front",
    "load_session": "session",
    "load_takes": "takes",
    "measure": "measure",
    "measure_session": "measure",
    "report": "report",
    "session_from_pair": "session",
    "write_report": "report",
}

__all__ = [
    "__version__",
    "compare",
    "compare_session",
    "find_worth",
    "load",
    "load_session",
    "load_takes",
    "measure",
    "measure_session",
    "report",
    "session_from_pair",
    "write_report",
]

__getattr__, __dir__ = lazily(__name__, _HOME)
sys.modules[__name__].__class__ = FrontPackage

"""Two quiets compared: hands on and off the strings, a whole humbucker against one of its coils."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tonecompare.language import tr_later
from tonecompare.measure.measured import Measured, unmeasured
from tonecompare.measure.quiet.hum_buzz_hiss import QuietResult
from tonecompare.quantities.quiet_and_voice_entries import HUM_LINES

#: Humbucking lines are compared where both quiets show them: hum_01 … hum_10.
_METHOD_MISMATCH = (
    "hum lines of the whole pickup over those of one coil, (a - b)/a; both coils in the same field"
)


def _difference(after: Measured, before: Measured) -> Measured:
    if after.value is None or before.value is None:
        missing = after if after.value is None else before
        return unmeasured("dB", missing.reason or tr_later("unmeasured"))
    se = float(np.hypot(after.uncertainty or 0.0, before.uncertainty or 0.0))
    return Measured(after.value - before.value, "dB", se)


def hum_hands(on: QuietResult, off: QuietResult) -> dict[str, Measured]:
    """Return how much each noise quantity is higher with hands on the strings, in dB.

    Grounded strings shield: less hum and buzz with hands on is usual. More with hands on points
    at strings or player not connected to ground.

    Parameters
    ----------
    on, off
        Quiets of one voice, same place, direction and gain, strings touched and not.

    Returns
    -------
    dict
        On minus off, keyed by the columns of ``quiet.csv``; unmeasured where either side is,
        with its reason.
    """
    names = ("hum_dbfs", *HUM_LINES, "buzz_dbfs", "hiss_dbfs", "noise_a_dbfs")
    return {name: _difference(on.quantities[name], off.quantities[name]) for name in names}


@dataclass(frozen=True)
class CoilMismatch:
    """How well two coils of a humbucker cancel hum.

    ``residual_db`` is the whole pickup's hum re one coil's; ``mismatch`` is ``|a - b|`` over the
    coils' mean, in percent.
    """

    residual_db: Measured
    mismatch: Measured


def coil_mismatch_from_residual(full: QuietResult, split: QuietResult) -> CoilMismatch:
    """Return the coil mismatch implied by the hum left when both coils work against each other.

    With coils of sensitivity a and b to the hum field, the split voice carries a, the whole
    a - b: ``r = |a - b|/a``. Which coil the split leaves on is unknown, so the mean lies between
    ``a (1 - r/2)`` and ``a (1 + r/2)``; ``|a - b|/mean = r`` to first order, and half that
    spread, ``r²/2``, goes into the uncertainty.

    Assumes the same place, direction and gain, a hum field alike in both coils, no phase between
    them, and hum picked up by the coils only (not by wires or electronics). A floor of other hum
    makes the mismatch look larger: it is an upper limit then.

    Parameters
    ----------
    full, split
        Quiets of the whole pickup and of one coil.
    """
    ratios, variances = [], []
    for name in HUM_LINES:
        whole, one = full.quantities[name], split.quantities[name]
        if whole.value is not None and one.value is not None:
            ratios.append(whole.value - one.value)
            variances.append((whole.uncertainty or 0.1) ** 2 + (one.uncertainty or 0.1) ** 2)
    if not ratios:
        reason = _why_no_mismatch(full, split)
        return CoilMismatch(
            unmeasured("dB", reason, method=_METHOD_MISMATCH),
            unmeasured("%", reason, method=_METHOD_MISMATCH),
        )
    weight = 1.0 / np.maximum(np.array(variances), 0.05**2)
    values = np.array(ratios)
    residual = float((weight * values).sum() / weight.sum())
    # Lines that disagree (a field not alike in both coils) widen the interval.
    spread = float((weight * np.square(values - residual)).sum()) / max(values.size - 1, 1)
    se = float(np.sqrt(max(spread, 1.0) / weight.sum()))
    r = float(10.0 ** (residual / 20.0))
    percent_se = 100.0 * float(np.hypot(r * se * np.log(10.0) / 20.0, r * r / 2.0))
    return CoilMismatch(
        Measured(residual, "dB", se, method=_METHOD_MISMATCH),
        Measured(100.0 * r, "%", percent_se, method=_METHOD_MISMATCH),
    )


def _why_no_mismatch(full: QuietResult, split: QuietResult) -> str:
    one = split.quantities["hum_dbfs"]
    if one.value is None:
        return tr_later("the split voice shows no hum to compare with ({why})", why=one.reason)
    limits = full.quantities["hum_dbfs"].reason or tr_later(
        "no line stands above the floor in both"
    )
    return tr_later("the whole pickup's hum does not stand above the floor: {why}", why=limits)

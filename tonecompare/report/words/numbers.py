"""Digits and units: the one place that decides how a number is written for people.

Every sentence, table cell and chart label goes through here, so that one number never appears
with different digits in two places. Digits follow from the uncertainty: the half width of the
interval keeps one or two significant digits (two when it starts with 1 to 3.54, the rule of the
Particle Data Group's *Review of Particle Physics*, introduction, section "Rounding"), within
limits per unit. A minus is the true minus sign. A number that was not measured is never written
as a number: these functions take finite numbers only and say so otherwise.
"""

from __future__ import annotations

import math
from numbers import Real
from typing import TypeGuard

from tonecompare.language import tr, tr_as, tr_later
from tonecompare.quantities.digits import (
    MOST_DECIMALS,
    MOST_OF_OTHERS,
    PLAIN_DECIMALS,
    PLAIN_OF_OTHERS,
)

MINUS = "\N{MINUS SIGN}"
#: What stands in a table cell for a number that was not measured.
NOT_MEASURED = tr_later("not measured")

#: Below this half width a second decimal of a decibel means something to a reader.
_FINE_DB = 0.1


def unit_word(unit: str) -> str:
    """Return the unit as written after a number: a share has none."""
    return "" if unit == "share" else tr(unit)


def decimal_mark() -> str:
    """Return what stands before the decimals of a number."""
    return tr_as("decimal mark", ".")


def is_number(value: object) -> TypeGuard[float]:
    """Return whether ``value`` is a finite number (None, NaN, infinities and text are not)."""
    return isinstance(value, Real) and math.isfinite(value)


def decimals_for(half_width: float | None, unit: str) -> int:
    """Decimals that the half width of an interval supports.

    Parameters
    ----------
    half_width
        Half the interval, in ``unit``; None or NaN when no uncertainty is known.
    unit
        The unit the number is written in.

    Returns
    -------
    int
        Decimals, 0 or more.
    """
    limit = MOST_DECIMALS.get(unit, MOST_OF_OTHERS)
    if half_width is None or not math.isfinite(half_width) or half_width <= 0:
        return PLAIN_DECIMALS.get(unit, PLAIN_OF_OTHERS)
    exponent = math.floor(math.log10(half_width))
    leading = half_width / 10.0**exponent
    significant = 2 if leading < 3.55 else 1
    if leading >= 9.5:  # 0.097 rounds to 0.10: two digits of the next decade
        exponent, significant = exponent + 1, 2
    decimals = significant - 1 - exponent
    if unit in ("dB", "dBFS") and half_width >= _FINE_DB:
        limit = min(limit, 1)
    return max(0, min(decimals, limit))


def number(value: float, decimals: int, *, signed: bool = False) -> str:
    """Write a finite number with a true minus sign; never "−0.0".

    Raises
    ------
    ValueError
        When ``value`` is not finite: what was not measured has no digits.
    """
    if not is_number(value):
        raise ValueError(f"value={value!r} is not a finite number: write the reason instead.")
    rounded = round(float(value), decimals) + 0.0
    text = f"{abs(rounded):.{decimals}f}".replace(".", decimal_mark())
    if rounded < 0:
        return MINUS + text
    return "+" + text if signed and rounded > 0 else text


def plain(value: float) -> str:
    """Write a number with the digits it has, no more than six: ``44100``, ``−0.25``, ``2``."""
    return f"{value + 0.0:g}".replace("-", MINUS).replace(".", decimal_mark())


def _scaled(unit: str, value: float) -> tuple[str, float]:
    """Return the unit a value is best read in (Hz or kHz, s or ms) and the factor to it."""
    if unit == "Hz" and abs(value) >= 1000:
        return "kHz", 1e-3
    if unit == "s" and 0 < abs(value) < 0.1:
        return "ms", 1e3
    return unit, 1.0


def _significant_decimals(value: float, digits: int) -> int:
    if value == 0:
        return 0
    return max(0, digits - 1 - math.floor(math.log10(abs(value))))


_SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def _small(value: float) -> str:
    """Write a number far below 1 in powers of ten: ``1.2 × 10⁻⁵``."""
    exponent = math.floor(math.log10(abs(value)))
    power = str(exponent).translate(_SUPERSCRIPT)
    return f"{number(value / 10.0**exponent, 1)} × 10{power}"


def with_unit(
    value: float, unit: str, *, uncertainty: float | None = None, signed: bool = False
) -> str:
    """Write a value with its unit, scaled to Hz or kHz and s or ms: ``1.24 kHz``, ``−38.2 dBFS``.

    Without ``uncertainty`` (one standard uncertainty or a half interval, same unit) three
    significant digits are shown for frequencies and times, the unit's usual decimals otherwise.
    """
    if not unit and 0.0 < abs(value) < 0.001:
        return _small(value)
    shown_unit, factor = _scaled(unit, value)
    if uncertainty is not None and math.isfinite(uncertainty) and uncertainty > 0:
        decimals = decimals_for(uncertainty * factor, shown_unit)
    elif unit in ("Hz", "s"):
        decimals = min(_significant_decimals(value * factor, 3), 2)
    else:
        decimals = PLAIN_DECIMALS.get(unit, PLAIN_OF_OTHERS)
    return f"{number(value * factor, decimals, signed=signed)} {unit_word(shown_unit)}".rstrip()


def half_width(low: float | None, high: float | None) -> float | None:
    """Half the width of an interval, None when an end is missing."""
    if low is None or high is None or not (math.isfinite(low) and math.isfinite(high)):
        return None
    return (high - low) / 2.0


def interval(low: float, high: float, unit: str, *, signed: bool = False) -> str:
    """Write ``5.2 to 6.2`` without the unit."""
    return _ends(low, high, decimals_for(half_width(low, high), unit), signed=signed)


def _ends(low: float, high: float, decimals: int, *, signed: bool = False) -> str:
    return tr(
        "{low} to {high}",
        low=number(low, decimals, signed=signed),
        high=number(high, decimals, signed=signed),
    )


def difference_decimals(value: float, low: float | None, high: float | None, unit: str) -> int:
    """Return decimals of a difference: what its interval supports, two significant digits at most.

    Examples
    --------
    >>> difference_decimals(1.56, 1.47, 1.66, "dB"), difference_decimals(-29.3, -31.7, -26.9, "dB")
    (1, 0)
    """
    decimals = decimals_for(half_width(low, high), unit)
    size = abs(value) if is_number(value) else 0.0
    return min(decimals, _significant_decimals(size, 2)) if size >= 1.0 else decimals


def difference(value: float, low: float | None, high: float | None, unit: str) -> str:
    """Write a signed difference with its interval: ``−5.7 dB (−6.2 to −5.2)``."""
    size, ends = signed_parts(value, low, high, unit)
    return f"{size} ({ends})" if ends else size


def signed_parts(value: float, low: float | None, high: float | None, unit: str) -> tuple[str, str]:
    """Write a signed difference and its interval apart; the second is "" without an interval."""
    decimals = difference_decimals(value, low, high, unit)
    size = f"{number(value, decimals, signed=True)} {unit_word(unit)}".rstrip()
    if low is None or high is None or half_width(low, high) is None:
        return size, ""
    return size, _ends(low, high, decimals, signed=True)


def magnitude(value: float, low: float | None, high: float | None, unit: str) -> tuple[str, str]:
    """Size and interval of a difference whose direction is said in words.

    Returns
    -------
    tuple[str, str]
        ``("5.7 dB", "5.2 to 6.2")`` for −5.7 dB (−6.2 to −5.2). When the interval crosses zero its
        ends keep their signs as measured; the second text is empty when there is no interval.
    """
    decimals = difference_decimals(value, low, high, unit)
    size = f"{number(abs(value), decimals)} {unit_word(unit)}".rstrip()
    if low is None or high is None or half_width(low, high) is None:
        return size, ""
    if low > 0 or high < 0:
        near, far = sorted((abs(low), abs(high)))
        return size, _ends(near, far, decimals)
    return size, _ends(low, high, decimals, signed=True)


def bound(low: float, high: float, unit: str) -> str:
    """Write the smallest round number that the whole interval stays within: ``6 %``.

    Rounded up, so that "unchanged within 6 %" never says more than the interval.
    """
    widest = max(abs(low), abs(high))
    decimals = min(decimals_for(widest, unit), 1)
    step = 10.0**-decimals
    rounded = math.ceil(round(widest / step, 9)) * step
    return f"{number(max(rounded, step), decimals)} {unit_word(unit)}".rstrip()


def count(n: int, noun: str, *, plural: str = "") -> str:
    """Write ``1 pluck``, ``5 plucks``."""
    return f"{n} {noun}" if n == 1 else f"{n} {plural or noun + 's'}"


def listed(items: list[str]) -> str:
    """Join for a sentence: ``a``, ``a and b``, ``a, b and c``; ``a as well as b and c``, a name.

    Examples
    --------
    >>> listed(["Neck", "Bridge"]), listed(["Blend", "Bridge and piezo"])
    ('Neck and Bridge', 'Blend as well as Bridge and piezo')
    """
    if len(items) < 2:
        return "".join(items)
    if any(tr("{items} and {last}", items="", last="") in item for item in items):
        return tr("{items} as well as {last}", items=", ".join(items[:-1]), last=items[-1])
    return tr("{items} and {last}", items=", ".join(items[:-1]), last=items[-1])


def frequency_tick(hz: float) -> str:
    """Label of a frequency axis: ``50``, ``200``, ``1k``, ``10k``."""
    text = f"{hz / 1000:g}k" if hz >= 1000 else f"{hz:g}"
    return text.replace(".", decimal_mark())


def about(value: float, unit: str) -> str:
    """Write the size of a difference with two significant digits: ``2.9 dB``, ``14 %``.

    Examples
    --------
    >>> about(-12.34, "dB"), about(0.456, "dB"), about(9.97, "%"), about(131.0, "cents")
    ('12 dB', '0.46 dB', '10 %', '130 cents')
    """
    size = float(f"{abs(value):.1e}")
    return f"{number(size, _significant_decimals(size, 2))} {unit_word(unit)}".rstrip()

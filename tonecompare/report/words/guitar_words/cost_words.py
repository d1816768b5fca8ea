"""Money and hours as people write them."""

from __future__ import annotations

from tonecompare.language import tr, tr_later
from tonecompare.report.words.numbers import decimal_mark, number


def amount(value: float, currency: str) -> str:
    """Write money in whole units where it is whole, else to the hundredth, so that sums agree.

    Examples
    --------
    >>> amount(190.5, "EUR")
    '190.50 EUR'
    """
    return f"{number(value, 0 if abs(value - round(value)) < 0.005 else 2)} {currency}".strip()


def short(value: float) -> str:
    """Write hours or a rating with up to two decimals, none for nothing.

    Examples
    --------
    >>> short(7.5)
    '7.5'
    """
    text = number(value, 2)
    return text.rstrip("0").rstrip(decimal_mark())


def cost(parts: float | None, hours: float, money: float | None, currency: str) -> str:
    """Write what something cost: parts (None leaves them out), hours, and all in money.

    Examples
    --------
    >>> cost(33.0, 3.5, 190.5, "EUR")
    '33 EUR parts, 3.5 h, 190.50 EUR in all'
    """
    said = []
    if parts is not None:
        text = tr_later("{money} parts") if currency else tr_later("parts for {money}")
        said.append(tr(text, money=amount(parts, currency)))
    said.append(f"{short(hours)} h")
    if money is not None:
        said.append(tr("{money} in all", money=amount(money, currency)))
    return ", ".join(said)

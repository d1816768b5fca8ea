"""How many decimals a number of each unit is shown with."""

from __future__ import annotations

#: Most decimals ever shown, by unit; other units: :data:`MOST_OF_OTHERS`.
MOST_DECIMALS = {
    "dB": 2, "%": 1, "cents": 1, "Hz": 2, "s": 2, "ms": 1, "µs": 0, "dBFS": 1, "mm": 1,
}  # fmt: skip
MOST_OF_OTHERS = 3
#: Decimals where no uncertainty is known, by unit; other units: :data:`PLAIN_OF_OTHERS`.
PLAIN_DECIMALS = {
    "dB": 1, "%": 0, "cents": 1, "Hz": 0, "s": 1, "ms": 1, "µs": 0, "dBFS": 1, "mm": 0,
}  # fmt: skip
PLAIN_OF_OTHERS = 2

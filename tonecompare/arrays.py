"""The one array type of the package: 64-bit floating point, whatever the shape."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

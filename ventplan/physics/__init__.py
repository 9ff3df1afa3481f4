"""Formulas of moving air, one phenomenon a module: pure functions of floats and arrays, in SI units."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Numbers: TypeAlias = float | npt.NDArray[np.float64]
"""A float or an array of floats; functions take them mixed, broadcast them, and return the same kind."""

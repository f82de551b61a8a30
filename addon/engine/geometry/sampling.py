"""Points that fill a square evenly, one after another."""

from __future__ import annotations

import numpy as np

# Steps of the additive recurrence in the plane, powers of the plastic number: the R2 sequence (common practice)
R2 = np.array([0.7548776662466927, 0.5698402909980532])

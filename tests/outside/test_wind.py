"""Wind speed, wall pressure and wind-driven flow against published tables and examples."""

from __future__ import annotations

import numpy as np
import pytest
from published import Check, published

from ventplan.physics import wind


@pytest.mark.parametrize("check", published("wind"))
def test_wind_follows_the_published_values(check: Check) -> None:
    arguments = {key: np.array(v) if isinstance(v, list) else v for key, v in check.arguments.items()}
    Check(**{**vars(check), "arguments": arguments}).holds_for(wind)

"""Exchange through a single opening against the published formulas."""

from __future__ import annotations

import pytest
from published import Check, published

from ventplan.physics import buoyancy


@pytest.mark.parametrize("check", published("single_sided"))
def test_single_opening_exchanges_what_the_formulas_say(check: Check) -> None:
    check.holds_for(buoyancy)

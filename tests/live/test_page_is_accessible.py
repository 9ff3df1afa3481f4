"""The page against the rules of WCAG 2.1, levels A and AA, by the general checker axe-core; and that nothing jumps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.live.conftest import User

axe = pytest.importorskip(
    "axe_core_python.sync_playwright", reason="axe-core checks accessibility: pip install axe-core-python"
)
RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]}

SHIFTS = (
    "window.shifts = []; "
    "new PerformanceObserver((list) => list.getEntries().forEach((e) => shifts.push(e.value)))"
    ".observe({ type: 'layout-shift', buffered: true })"
)
GOOD_SHIFT = 0.1
"""Cumulative layout shift that counts as good (web.dev, Core Web Vitals, Cumulative Layout Shift, 2020)."""


def violations(user: User) -> list[str]:
    """Rules that the page breaks, each with the first place."""
    found = axe.Axe().run(user.page, options=RULES)
    return [f"{v['id']}: {v['help']}: {v['nodes'][0]['html'][:200]}" for v in found["violations"]]


def as_opened(user: User) -> None:
    user.page.wait_for_selector("#plan .band", state="attached")


def with_a_fan_selected(user: User) -> None:
    user.click(user.middle("fan", "box fan"))
    user.page.wait_for_selector("#thing [data-field=setback]")


def drawing_a_room(user: User) -> None:
    user.page.get_by_text("Draw walls").click()
    user.click(user.on_plan(3.0, 1.0))
    user.page.wait_for_selector("#thing [data-field=ceiling]")


def with_every_section_open(user: User) -> None:
    user.page.evaluate("document.querySelectorAll('#panel > details').forEach((n) => n.open = true)")
    user.page.locator("#beside-name-choice").select_option("shut up")
    user.page.wait_for_selector("#compared table")


def with_an_error(user: User) -> None:
    user.click(user.middle("fan", "box fan"))
    field = user.page.locator("#thing [data-field=setback]")
    field.fill("many")
    field.press("Enter")
    user.page.wait_for_selector("#errors li")


@pytest.mark.parametrize("look", ["light", "dark"])
@pytest.mark.parametrize(
    "state", [as_opened, with_a_fan_selected, drawing_a_room, with_every_section_open, with_an_error]
)
def test_no_rule_of_accessibility_is_broken(served: Any, user: User, state: Callable[[User], None], look: str) -> None:
    user.open(served.address())
    user.page.locator("#look").select_option(look)
    state(user)
    assert violations(user) == []


@pytest.mark.parametrize("size", [(1280, 900), (390, 844)])
def test_nothing_jumps_while_the_page_opens(served: Any, user: User, size: tuple[int, int]) -> None:
    user.page.set_viewport_size({"width": size[0], "height": size[1]})
    user.page.add_init_script(SHIFTS)
    user.open(served.address())
    user.page.wait_for_selector("#plan .band", state="attached")
    user.page.wait_for_timeout(500)
    assert user.page.evaluate("shifts.reduce((a, b) => a + b, 0)") < GOOD_SHIFT

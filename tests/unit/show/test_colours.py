"""Colours can be read by anybody, on paper and on a dark screen."""

from __future__ import annotations

import itertools

import pytest

from ventplan.show.paper import COLOURS, STEPS, as_variables, tint


def contrast(one: str, other: str) -> float:
    """Contrast of two hex colours, (L1 + 0.05) / (L2 + 0.05) with relative luminances (WCAG 2.1) [-]."""
    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def luminance(code: str) -> float:
    channels = [int(code[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


TEXT_ON = [("ink", ground) for ground in COLOURS if ground.startswith(("fresh", "warm", "paper", "floor", "obstacle"))]
TEXT_ON += [(colour, "paper") for colour in ("muted", "air", "jet", "glass", "warning")]


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize(("text", "ground"), TEXT_ON)
def test_text_has_a_contrast_of_four_and_a_half(text: str, ground: str, theme: int) -> None:
    # WCAG 2.1, success criterion 1.4.3
    assert contrast(COLOURS[text][theme], COLOURS[ground][theme]) >= 4.5


def test_contrast_agrees_with_the_standards_own_ends() -> None:
    # WCAG 2.1: black on white is 21 to 1; equal colours 1 to 1
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#777777") == 1.0
    # #767676 on white is the grey that just passes 4.5 (common practice, no source)
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", [0, 1], ids=["light", "dark"])
@pytest.mark.parametrize("scale", ["fresh", "warm"])
def test_scales_fall_or_rise_evenly_in_lightness(scale: str, theme: int) -> None:
    codes = [COLOURS[f"{scale} {i + 1}"][theme] for i in range(STEPS)]
    against_black = [contrast(code, "#000000") for code in codes]
    steps = [b / a for a, b in itertools.pairwise(against_black)]
    assert all(step < 0.93 for step in steps) or all(step > 1.07 for step in steps)


def test_colour_codes_are_all_different_so_that_pages_can_swap_them() -> None:
    codes = [light for light, _ in COLOURS.values()]
    assert len(set(codes)) == len(codes)
    swapped = as_variables(" ".join(codes))
    assert "#" not in swapped
    assert swapped.count("var(--") == len(codes)


def test_a_value_on_a_bound_belongs_to_the_step_above() -> None:
    bounds = (1.0, 3.0, 6.0, 12.0, 25.0)
    assert [tint("fresh", v, bounds) for v in (0.0, 1.0, 24.9, 25.0)] == ["fresh 1", "fresh 2", "fresh 5", "fresh 6"]

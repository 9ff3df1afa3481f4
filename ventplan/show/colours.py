"""The colours of pictures and pages, one table for light paper and dark screens.

Every colour is a name with a pair of hex codes. Pictures are drawn in the light ones; a page swaps them by name
(`as_variables`), so that the same picture can be read on a dark screen. The two sequential scales fall evenly in
lightness (OKLab), so that they can be told apart with any colour vision and in grey print; text on them keeps a
contrast of at least 4.5 (WCAG 2.1, success criterion 1.4.3).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

COLOURS: dict[str, tuple[str, str]] = {
    "paper": ("#fefefd", "#14181d"),
    "ink": ("#17212b", "#e8ecf0"),
    "muted": ("#4a5865", "#a8b4c0"),
    "faint": ("#c9d0d6", "#3c4650"),
    "wall": ("#2f3a45", "#c3ccd5"),
    "glass": ("#1f6f9a", "#86c3ea"),
    "floor": ("#f3f4f2", "#1e242b"),
    "ghost": ("#f7f7f5", "#191e24"),
    "obstacle": ("#dcd7cd", "#34383e"),
    "air": ("#0b5f7c", "#7cc7e6"),
    "jet": ("#9a4a06", "#f4b272"),
    "warning": ("#9c1c1d", "#ffa8a8"),
    "fresh 1": ("#f9f7ea", "#212016"),
    "fresh 2": ("#e2e9d2", "#282c1c"),
    "fresh 3": ("#c5ddc0", "#2b3a28"),
    "fresh 4": ("#a3d0b7", "#294938"),
    "fresh 5": ("#7dc3b5", "#23574e"),
    "fresh 6": ("#57b4b9", "#1e6568"),
    "warm 1": ("#fbf7e8", "#221f14"),
    "warm 2": ("#f1e4cb", "#322917"),
    "warm 3": ("#ead0b0", "#43321b"),
    "warm 4": ("#e5bb97", "#563a20"),
    "warm 5": ("#dfa482", "#6b4229"),
    "warm 6": ("#d98d73", "#7f4936"),
}
"""Name: colour on light paper, colour on a dark screen."""

STEPS = 6
"""Steps of a sequential scale."""


def light(name: str) -> str:
    """The hex code of a colour on light paper."""
    return COLOURS[name][0]


def variable(name: str) -> str:
    """The name of a colour's variable on a page."""
    return "--" + name.replace(" ", "-")


def as_variables(svg: str) -> str:
    """A picture whose colours follow the page it stands in, light or dark.

    Parameters
    ----------
    svg
        Text of a picture drawn in the light colours.
    """
    for name, (code, _) in COLOURS.items():
        svg = svg.replace(code, f"var({variable(name)})")
    return svg


def tint(scale: str, value: float, bounds: Sequence[float]) -> str:
    """Name of the colour for a value on a scale of steps.

    Parameters
    ----------
    scale
        ``fresh`` or ``warm``.
    value
        What to show.
    bounds
        Bounds between the steps, rising, shape (STEPS - 1,); a value on a bound belongs to the step above.
    """
    return f"{scale} {bisect_right(bounds, value) + 1}"


def contrast(one: str, other: str) -> float:
    """Contrast of two hex colours, (L1 + 0.05) / (L2 + 0.05) with relative luminances (WCAG 2.1) [-]."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(code: str) -> float:
    channels = [int(code[i : i + 2], 16) / 255.0 for i in (1, 3, 5)]
    red, green, blue = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue

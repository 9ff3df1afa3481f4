"""What every picture shares: colours, the plotting library, axes of charts, and files that stay the same.

The plotting library is imported only when something is drawn.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from html import escape
from io import BytesIO
from pathlib import Path
from typing import Any

from ventplan.errors import InputError, VentplanError
from ventplan.files import write_file
from ventplan.house.units import System, shown_number
from ventplan.show.tables import unit_name

FORMATS = ("svg", "png", "pdf")
POINTS_PER_M = 72.0 / 0.0254
"""Points on paper for each metre of paper."""
PNG_DOTS_PER_INCH = 144
SETTINGS: dict[str, Any] = {
    "svg.hashsalt": "ventplan",  # ids in the file would differ from run to run
    "svg.fonttype": "path",  # text takes the room it was given, whatever fonts the reader has
    "pdf.fonttype": 42,
    "font.family": "DejaVu Sans",
    "path.simplify": False,
}
NO_DATES: dict[str, dict[str, None]] = {
    "svg": {"Date": None, "Creator": None},
    "png": {"Software": None},
    "pdf": {"CreationDate": None, "Creator": None, "Producer": None},
}


def plotting() -> Any:
    """The plotting library, or the error that says how to install it."""
    try:
        import matplotlib
        import matplotlib.figure
    except ImportError:
        raise missing("matplotlib", "pictures") from None
    return matplotlib


def missing(library: str, what: str) -> VentplanError:
    """The error for an optional library that is not installed."""
    return InputError(f"{what} need {library}, which is not installed; install it with: pip install 'ventplan[draw]'")


def new_figure(width_pt: float, height_pt: float) -> Any:
    """An empty sheet of that size in points."""
    library = plotting()
    return library.figure.Figure(figsize=(width_pt / 72.0, height_pt / 72.0), dpi=72.0)


def text_size(text: str, size_pt: float, *, bold: bool = False) -> tuple[float, float]:
    """Width and line height of a line of text [pt]."""
    plotting()
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", size=size_pt, weight="bold" if bold else "normal")
    width, _, _ = text_to_path.get_text_width_height_descent(text, font, False)
    return float(width), 1.25 * size_pt


def wrapped(text: str, size_pt: float, width_pt: float, *, bold: bool = False) -> list[str]:
    """Text in lines that fit a width, broken between words."""
    lines, current = [], ""
    for word in text.split(" "):
        trial = f"{current} {word}".strip()
        if current and text_size(trial, size_pt, bold=bold)[0] > width_pt:
            lines.append(current)
            current = word
        else:
            current = trial
    return [*lines, current]


def format_of(path: Path) -> str:
    """The kind of picture that a file name asks for.

    Raises
    ------
    InputError
        For any other ending.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise InputError(f"{path}: a picture's file name ends in .svg, .png or .pdf")
    return kind


def to_bytes(figure: Any, kind: str) -> bytes:
    """A figure as the content of an ``svg``, ``png`` or ``pdf`` file; the same figure gives the same bytes."""
    library = plotting()
    buffer = BytesIO()
    with library.rc_context(SETTINGS):
        figure.savefig(
            buffer,
            format=kind,
            dpi=PNG_DOTS_PER_INCH if kind == "png" else 72.0,
            facecolor=figure.get_facecolor(),
            metadata=NO_DATES[kind],
        )
    return buffer.getvalue()


def save(figure: Any, path: Path) -> None:
    """Write a figure to a file whose ending says what kind of picture it is."""
    write_file(path, to_bytes(figure, format_of(path)))


def as_markup(figure: Any, *, key: str, title: str, description: str) -> str:
    """A figure as an ``svg`` element to stand inside a page, with a title and a description for screen readers.

    `key` sets its ids apart from those of other pictures on the page.
    """
    text = to_bytes(figure, "svg").decode()
    text = re.sub(r"<metadata>.*?</metadata>|<style[^>]*>.*?</style>|<!--.*?-->", "", text, flags=re.DOTALL)
    box = re.search(r'viewBox="([^"]*)"', text)
    body = text[text.index(">", text.index("<svg")) + 1 :]
    body = re.sub(r'\bid="([^"]+)"', rf'id="{key}-\1"', body)
    body = re.sub(r'(xlink:href="#|url\(#)', rf"\g<1>{key}-", body)
    names = f'<title id="{key}-title">{escape(title)}</title><desc id="{key}-desc">{escape(description)}</desc>'
    head = (
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" '
        f'viewBox="{box[1] if box else ""}" role="img" aria-labelledby="{key}-title {key}-desc" '
        'stroke-linejoin="round" stroke-linecap="butt">'
    )
    return f"{head}{names}{body}".strip()


def width_pt(figure: Any) -> float:
    """Width of a figure [pt]."""
    return float(figure.get_figwidth()) * 72.0


WORDS_PT, TITLE_PT = 9.0, 11.5
WIDTH_PT, HEIGHT_PT = 400.0, 300.0
STYLES: tuple[tuple[str, tuple[float, ...]], ...] = (
    ("air", ()),
    ("jet", (6.0, 2.0)),
    ("ink", (2.0, 1.5)),
    ("glass", (8.0, 2.0, 1.5, 2.0)),
    ("warning", (4.0, 1.5, 1.0, 1.5, 1.0, 1.5)),
    ("muted", (1.0, 1.0)),
)
"""Colour and dash of the first, second, ... line."""


class Chart:
    """A pair of axes with a title, and lines that carry their names at their right ends.

    Values are given in SI and drawn in the units of the axes.

    Parameters
    ----------
    title
        What the chart says.
    x_words, y_words
        What the axes show; a quantity's unit is added.
    x, y
        Quantities of ``ventplan.house.units``, or empty for plain numbers.
    system
        Units of the axes.
    names_pt
        Room for names at the right [pt].
    height_pt
        Height of the sheet [pt].
    left_pt
        Room for words at the left [pt].
    """

    def __init__(
        self,
        title: str,
        x_words: str,
        y_words: str,
        *,
        x: str = "",
        y: str = "",
        system: System = "si",
        names_pt: float = 98.0,
        height_pt: float = HEIGHT_PT,
        left_pt: float = 44.0,
    ) -> None:
        self.library = plotting()
        self.height_pt = height_pt
        self._quantities, self._system = (x, y), system
        self._names: list[tuple[float, float, str, str]] = []
        x_words, y_words = (
            f"{words}, {unit_name(quantity, system)}" if quantity else words
            for words, quantity in ((x_words, x), (y_words, y))
        )
        with self.library.rc_context(SETTINGS):
            self.figure = new_figure(WIDTH_PT, height_pt)
            self.figure.patch.set_facecolor(light("paper"))
            lines = wrapped(title, TITLE_PT, WIDTH_PT - 24.0, bold=True)
            step, first = 1.25 * TITLE_PT, height_pt - 8.0 - TITLE_PT
            for n, line in enumerate(lines):
                self._head(line, first - step * n, TITLE_PT, "ink", bold=True)
            below = first - step * (len(lines) - 1) - (16.0 if y_words else 0.0)
            self._head(y_words, below, WORDS_PT, "muted")
            left, right = left_pt / WIDTH_PT, 1.0 - names_pt / WIDTH_PT
            low, high = 42.0 / height_pt, (below - 12.0) / height_pt
            self.axes = self.figure.add_axes((left, low, right - left, high - low))
            self.axes.set_facecolor(light("paper"))
            self.axes.set_xlabel(x_words, fontsize=WORDS_PT, color=light("muted"), parse_math=False)
            for side in ("top", "right"):
                self.axes.spines[side].set_visible(False)
            for side in ("left", "bottom"):
                self.axes.spines[side].set_color(light("muted"))
            self.axes.tick_params(labelsize=WORDS_PT, colors=light("muted"), labelcolor=light("ink"))
            self.axes.grid(True, color=light("faint"), linewidth=0.5)
            self.axes.set_axisbelow(True)

    def xs(self, values: Iterable[Any]) -> list[float]:
        """Values in SI in the unit of the x axis."""
        return self._shown(values, self._quantities[0])

    def ys(self, values: Iterable[Any]) -> list[float]:
        """Values in SI in the unit of the y axis."""
        return self._shown(values, self._quantities[1])

    def _shown(self, values: Iterable[Any], quantity: str) -> list[float]:
        return [shown_number(float(value), quantity, self._system) if quantity else float(value) for value in values]

    def limits(self, x: tuple[float, float] | None = None, y: tuple[float, float] | None = None) -> None:
        """Set where the axes begin and end, in SI."""
        if x is not None:
            self.axes.set_xlim(*self.xs(x))
        if y is not None:
            self.axes.set_ylim(*self.ys(y))

    def _head(self, text: str, y_pt: float, size_pt: float, colour: str, *, bold: bool = False) -> None:
        style = {"fontsize": size_pt, "color": light(colour), "fontweight": "bold" if bold else "normal"}
        self.figure.text(12.0 / WIDTH_PT, y_pt / self.height_pt, text, parse_math=False, **style)

    def line(self, xs: Iterable[Any], ys: Iterable[Any], name: str, style: int, *, width: float = 1.8) -> None:
        """A line, named at its right end."""
        colour, dash = STYLES[style % len(STYLES)]
        shown_x, shown_y = self.xs(xs), self.ys(ys)
        drawn = self.axes.plot(shown_x, shown_y, color=light(colour), linewidth=width)[0]
        if dash:
            drawn.set_dashes(dash)
        if name:
            self._names.append((shown_x[-1], shown_y[-1], name, colour))

    def faint_line(self, xs: Iterable[Any], ys: Iterable[Any]) -> None:
        """A thin grey line without a name."""
        self.axes.plot(self.xs(xs), self.ys(ys), color=light("faint"), linewidth=1.0)

    def bar(self, xs: Iterable[Any], y: float, style: int) -> None:
        """A thick level bar without a name."""
        shown_x, (level,) = self.xs(xs), self.ys((y,))
        colour = light(STYLES[style % len(STYLES)][0])
        self.axes.plot(shown_x, [level] * len(shown_x), color=colour, linewidth=4.0, solid_capstyle="butt")

    def band(self, xs: Iterable[Any], low: Iterable[Any], high: Iterable[Any], style: int) -> None:
        """A band around a line."""
        colour = light(STYLES[style % len(STYLES)][0])
        self.axes.fill_between(self.xs(xs), self.ys(low), self.ys(high), color=colour, alpha=0.16, linewidth=0.0)

    def level(self, y: float, name: str) -> None:
        """A level line across, named at its right end."""
        (shown_y,) = self.ys((y,))
        self.axes.axhline(shown_y, color=light("muted"), linewidth=1.0, linestyle=(0.0, (5.0, 3.0)))
        self._names.append((float("nan"), shown_y, name, "muted"))

    def whisker(self, x: float, low: float, high: float, style: int) -> None:
        """An upright bar from a low to a high value."""
        colour = light(STYLES[style % len(STYLES)][0])
        self.axes.plot(self.xs((x, x)), self.ys((low, high)), color=colour, linewidth=1.2, marker="_", markersize=7.0)

    def point(self, x: float, y: float, style: int) -> None:
        """A marked point."""
        colour, paper = light(STYLES[style % len(STYLES)][0]), light("paper")
        marker = {"marker": "o", "markersize": 7.0, "color": paper, "markeredgecolor": colour, "markeredgewidth": 2.0}
        self.axes.plot(self.xs((x,)), self.ys((y,)), **marker)

    def remark(self, x: float, y: float, text: str, *, quiet: bool = False) -> None:
        """A few words to the right of a point."""
        (shown_x,), (shown_y,) = self.xs((x,)), self.ys((y,))
        self.axes.annotate(
            text, (shown_x, shown_y), xytext=(6.0, 0.0), textcoords="offset points", fontsize=WORDS_PT - 0.5 * quiet,
            va="center", color=light("muted" if quiet else "ink"), annotation_clip=False, parse_math=False,
        )  # fmt: skip

    def write(self, x: float, y: float, text: str, colour: str = "ink", *, align: str = "left") -> None:
        """Words at a place of the sheet, in shares of its size."""
        self.figure.text(x, y, text, fontsize=WORDS_PT, color=light(colour), ha=align, parse_math=False)

    def finish(self) -> Any:
        """Write the names where they do not touch, and give the figure."""
        with self.library.rc_context(SETTINGS):
            low, high = self.axes.get_ylim()
            right = self.axes.get_xlim()[1]
            box = self.axes.get_position()
            height = (box.y1 - box.y0) * self.height_pt
            at = [(y - low) / (high - low) * height for _, y, _, _ in self._names]
            step = 1.25 * WORDS_PT
            lines = [wrapped(name, WORDS_PT, (1.0 - box.x1) * WIDTH_PT - 14.0) for _, _, name, _ in self._names]
            placed = spread(at, [step * len(text) + 2.0 for text in lines], 0.0, height)
            for (x, y, _, colour), middle, text in zip(self._names, placed, lines, strict=True):
                end = box.x1 + 9.0 / WIDTH_PT
                for i, part in enumerate(text):
                    offset = middle + step * (0.5 * (len(text) - 1) - i) - 0.34 * WORDS_PT
                    self.write(end, box.y0 + offset / self.height_pt, part, colour)
                value = low + middle / height * (high - low)
                start = x if x == x else right
                beyond = right + (right - self.axes.get_xlim()[0]) * 0.012
                ends = ([start, beyond], [y, value])
                self.axes.plot(*ends, color=light(colour), linewidth=0.5, clip_on=False, zorder=1.0)
            self.axes.set_xlim(self.axes.get_xlim()[0], right)
            self.axes.set_ylim(low, high)
        return self.figure


def spread(wanted: Sequence[float], heights: Sequence[float], low: float, high: float) -> list[float]:
    """Move the middles of intervals of some heights apart until none overlap, as little as that takes.

    They stay between `low` and `high` unless they cannot all fit there.
    """
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    middles = list(wanted)
    floor = low
    for i in order:
        middles[i] = max(middles[i], floor + heights[i] / 2.0)
        floor = middles[i] + heights[i] / 2.0
    ceiling = max(high, low + sum(heights))
    for i in reversed(order):
        middles[i] = min(middles[i], ceiling - heights[i] / 2.0)
        ceiling = middles[i] - heights[i] / 2.0
    return middles


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
"""Name: colour on light paper, colour on a dark screen. Pictures are drawn in the light ones; a page swaps them by name
(`as_variables`). The two scales fall evenly in lightness (OKLab), so that they differ for any colour vision
and in grey print; text on them keeps a contrast of at least 4.5 (WCAG 2.1, success criterion 1.4.3)."""
STEPS = 6
"""Steps of a sequential scale."""


def light(name: str) -> str:
    """The hex code of a colour on light paper."""
    return COLOURS[name][0]


def variable(name: str) -> str:
    """The name of a colour's variable on a page."""
    return "--" + name.replace(" ", "-")


def as_variables(svg: str) -> str:
    """A picture whose colours follow the page it stands in, light or dark."""
    for name, (code, _) in COLOURS.items():
        svg = svg.replace(code, f"var({variable(name)})")
    return svg


def tint(scale: str, value: float, bounds: Sequence[float]) -> str:
    """Name of the colour for a value on the ``fresh`` or ``warm`` scale; one on a bound belongs to the step above."""
    return f"{scale} {bisect_right(bounds, value) + 1}"

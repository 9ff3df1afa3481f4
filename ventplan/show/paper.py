"""What every picture shares: the plotting library, imported when something is drawn, and files that stay the same."""

from __future__ import annotations

import re
from html import escape
from io import BytesIO
from pathlib import Path
from typing import Any

from ventplan.errors import InputError, VentplanError
from ventplan.files import write_file

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
    """The plotting library.

    Raises
    ------
    VentplanError
        Where it is not installed; the text has the command that installs it.
    """
    try:
        import matplotlib
        import matplotlib.figure
    except ImportError:
        raise missing("matplotlib", "pictures") from None
    return matplotlib


def missing(library: str, what: str) -> VentplanError:
    """The error for a library that is an optional part of the installation."""
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
    """A figure as the content of a file; the same figure gives the same bytes.

    Parameters
    ----------
    figure
        From `new_figure`.
    kind
        ``svg``, ``png`` or ``pdf``.
    """
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
    """A figure as an ``svg`` element to stand inside a page, with words for those who cannot see it.

    Parameters
    ----------
    figure
        From `new_figure`.
    key
        Sets its ids apart from those of other pictures on the page.
    title, description
        What it is, and what it shows.
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

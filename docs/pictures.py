"""Draw the pictures of README and ``docs/pictures.md``: ``python -m docs.pictures``."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import Any

from PIL import Image

from ventplan.advice import compare, setback_curve
from ventplan.house import read_house
from ventplan.network import solve
from ventplan.show.charts import comparison_chart, setback_chart
from ventplan.show.paper import to_bytes
from ventplan.show.plan import draw_plan

ROOT = Path(__file__).parents[1]
FOLDER = Path(__file__).parent / "pictures"
COLOURS = 96
"""Colours kept, so that each picture stays below 100 kB."""


def small_png(figure: Any) -> bytes:
    """A figure as a PNG of few colours."""
    image = Image.open(BytesIO(to_bytes(figure, "png"))).convert("RGB")
    buffer = BytesIO()
    image.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE).save(
        buffer, "PNG", optimize=True
    )
    return buffer.getvalue()


def figures() -> dict[str, Any]:
    """Every picture of the page, by the name of its file."""
    bungalow = read_house(ROOT / "house_examples/bungalow.yaml")
    two_storey = read_house(ROOT / "house_examples/two_storey.yaml")
    evening, night = bungalow.scenarios["evening"], two_storey.scenarios["night"]
    curve = setback_curve(bungalow, evening, fan="box fan", opening="living west window")
    return {
        "plan": draw_plan(bungalow, evening, solve(bungalow, evening)),
        "storeys": draw_plan(two_storey, night, solve(two_storey, night), tint="age"),
        "setback": setback_chart(curve, title="How far back to set the box fan", system="us"),
        "scenarios": comparison_chart(
            compare(bungalow, ["cross breeze", "evening", "evening, two fans", "evening, no screens"]),
            title="Bungalow: four scenarios",
            system="us",
        ),
    }


def main() -> None:
    """Write every picture that has changed."""
    FOLDER.mkdir(exist_ok=True)
    for name, figure in figures().items():
        content = small_png(figure)
        path = FOLDER / f"{name}.png"
        if not path.exists() or path.read_bytes() != content:
            path.write_bytes(content)
        print(f"{path.relative_to(ROOT)}: {len(content) / 1000:.0f} kB")


if __name__ == "__main__":
    main()

"""A picture of how time grows with the size of a house, from the table of ``growth``."""

from __future__ import annotations

from pathlib import Path

from tests.benchmarks.timing import Table

PICTURE = Path(__file__).parents[2] / "docs" / "pictures" / "growth.png"
UNITS = {"µs": 1e-6, "ms": 1e-3, "s": 1.0}


def seconds(text: str) -> float:
    """``12.1 µs`` as seconds."""
    number, unit = text.split()
    return float(number) * UNITS[unit]


def draw(table: Table) -> None:
    """Draw time for each state against rooms times openings, both engines."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, axes = pyplot.subplots(figsize=(6.4, 4.0))
    sizes = [int(row[1]) for row in table.rows]
    order = sorted(range(len(sizes)), key=lambda i: (sizes[i], int(table.rows[i][0])))
    for column, name, mark in ((2, "compiled", "o-"), (3, "numpy", "s--")):
        axes.loglog([sizes[i] for i in order], [seconds(table.rows[i][column]) * 1e6 for i in order], mark, label=name)
    axes.set_xticks(sorted(set(sizes)), [str(size) for size in sorted(set(sizes))])
    axes.set_xticks([], minor=True)
    axes.yaxis.set_major_formatter("{x:g}")
    axes.set_xlabel("openings")
    axes.set_ylabel("processor time for each state, µs")
    axes.set_title(table.title, loc="left", fontsize=10)
    axes.grid(True, which="both", alpha=0.3)
    axes.legend(frameon=False)
    figure.tight_layout()
    figure.savefig(PICTURE, dpi=90, metadata={"Software": None})
    pyplot.close(figure)

"""``ventplan rank``: fans by what they drive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.options import AsJson, HouseFile, ShowUnits

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.rank import Ranking


RANK_EXAMPLE = "Example: ventplan rank house.yaml -o rank.png"


def rank(
    house_file: HouseFile,
    output: Annotated[
        Path | None, typer.Option("-o", "--output", metavar="FILE", help="Draw the ranking (PNG, SVG or PDF).")
    ] = None,
    show: ShowUnits = None,
    json: AsJson = False,
) -> None:
    """Rank the fans of a house file by thrust, thrust per watt and the flow that they drive through a
    window."""
    from ventplan.cli.measured import print_notes
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.errors import InputError, Mistake
    from ventplan.house import read_house
    from ventplan.house.shown import show as shown
    from ventplan.measure.rank import rank_fans

    house = read_house(house_file)
    if not house.fans:
        raise InputError([Mistake("fans", "no fans", "at least one fan to rank", file=str(house_file))])
    ranking = rank_fans(house.fans)
    if output is not None:
        draw(ranking, output)
    if json:
        print_json("rank", ranking)
        return
    from rich.table import Table

    system: System = "us" if units_for(house, show) == "us" else "si"
    table = Table(box=None, pad_edge=False)
    heads = ("fan", "drives", "at setback", "thrust", "thrust per watt", "blades", "off the curve")
    for head in heads:
        table.add_column(head, justify="left" if head == "fan" else "right")
    for fan in ranking.fans:
        table.add_row(
            fan.name,
            shown(fan.driven_m3_s, "flow", system),
            shown(fan.setback_m, "length", system),
            f"{shown(fan.thrust_n, 'thrust', system)} ± {fan.thrust_error * 1.96:.0%}",
            "–" if fan.thrust_per_watt is None else f"{fan.thrust_per_watt * 1000.0:.0f} mN/W",
            shown(fan.blades_m3_s, "flow", system),
            f"{fan.residual:+.0%}",
        )
    console().print(table)
    pairs = {frozenset((fan.name, other)) for fan in ranking.fans for other in fan.close_to}
    close = sorted(" and ".join(sorted(pair)) for pair in pairs)
    # Cubic feet a minute over the root of a gram-force.
    factor, units = (ranking.factor * 2118.88 * 0.00980665**0.5, "cfm") if system == "us" else (ranking.factor, "m³/s")
    print_notes(
        [
            "Flow is through a bare window of 1.0 x 1.1 m with a door open for supply, at the fan's best setback "
            "within 4 m.",
            f"The curve is flow = {factor:.3g} {units} x square root of thrust in {'gf' if system == 'us' else 'N'}: a "
            "fan above it has a jet that suits the window, one below it spends its thrust on too narrow or too wide "
            "a stream.",
            *([f"Thrusts that cannot be told apart yet: {'; '.join(close)}."] if close else []),
        ]
    )


def draw(ranking: Ranking, path: Path) -> None:
    """Draw driven flow over thrust with the square-root curve."""
    import matplotlib

    matplotlib.use("Agg")
    import numpy as np
    from matplotlib import pyplot as plt

    figure, axes = plt.subplots(figsize=(7.0, 4.5), layout="constrained")
    top = max(fan.thrust_n * (1.0 + 1.96 * fan.thrust_error) for fan in ranking.fans) * 1.05
    thrust = np.linspace(0.0, top, 200)
    axes.plot(thrust, ranking.factor * np.sqrt(thrust), color="0.5", label=f"{ranking.factor:.2f} √thrust")
    for place, fan in enumerate(ranking.fans):
        reach = 1.96 * fan.thrust_error * fan.thrust_n
        axes.errorbar(fan.thrust_n, fan.driven_m3_s, xerr=reach, fmt="o", capsize=3, color="C0")
        lift = 5 if place % 2 == 0 else -14  # above and below in turn, so that close fans do not overlap
        axes.annotate(fan.name, (fan.thrust_n, fan.driven_m3_s), xytext=(4, lift), textcoords="offset points")
    axes.set(
        xlabel="thrust [N], 95 %", ylabel="flow through the reference window [m³/s]", xlim=(0.0, None), ylim=(0.0, None)
    )
    axes.legend(frameon=False)
    figure.savefig(path, dpi=150)
    plt.close(figure)

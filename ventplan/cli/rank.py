"""``ventplan rank``: fans by what they drive."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ventplan.cli.options import AsJson, HouseFile, ShowUnits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ventplan.house.fans import Fan
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
    from ventplan.cli.measured import print_notes, signed
    from ventplan.cli.output import console, print_json, units_for
    from ventplan.errors import InputError, Mistake
    from ventplan.house import read_house
    from ventplan.house.shown import show as shown
    from ventplan.measure.rank import SETBACKS_M, WINDOW_M, rank_fans

    house = read_house(house_file)
    if not house.fans:
        raise InputError([Mistake("fans", "no fans", "at least one fan to rank", file=str(house_file))])
    ranking = rank_fans(house.fans)
    if output is not None:
        draw(ranking, output, "us" if units_for(house, show) == "us" else "si")
    if json:
        print_json("rank", ranking)
        return
    from rich.table import Table

    system: System = "us" if units_for(house, show) == "us" else "si"
    table = Table(box=None, pad_edge=False)
    heads = ("fan", "drives", "at setback", "thrust", "±", "per watt", "blades", "off curve")
    for head in heads:
        table.add_column(head, justify="left" if head == "fan" else "right")
    for fan in ranking.fans:
        table.add_row(
            fan.name,
            shown(fan.driven_m3_s, "flow", system),
            shown(fan.setback_m, "length", system),
            shown(fan.thrust_n, "thrust", system),
            f"{fan.thrust_error * 1.96:.0%}",
            _per_watt(fan.thrust_per_watt, system),
            shown(fan.blades_m3_s, "flow", system),
            f"{signed(fan.residual * 100.0, 0)}%",
        )
    console().print(table)
    pairs = {frozenset((fan.name, other)) for fan in ranking.fans for other in fan.close_to}
    close = sorted(" and ".join(sorted(pair)) for pair in pairs)
    # Cubic feet a minute over the root of a gram-force.
    factor, units = (ranking.factor * 2118.88 * 0.00980665**0.5, "cfm") if system == "us" else (ranking.factor, "m³/s")
    window = " x ".join(shown(side, "length", system) for side in WINDOW_M)
    print_notes(
        [
            f"Flow is through a bare window of {window} with a door open for supply, at the fan's best setback within "
            f"{shown(max(SETBACKS_M), 'length', system)}; thrust is ± for 95 %.",
            f"The curve is flow = {factor:.3g} {units} x square root of thrust in {'gf' if system == 'us' else 'N'}: a "
            "fan above it has a jet that suits the window, one below it spends its thrust on too narrow or too wide "
            "a stream.",
            *_missing(house.fans),
            *([f"Thrusts that cannot be told apart yet: {'; '.join(close)}."] if close else []),
        ]
    )


def _per_watt(thrust_per_watt: float | None, system: System) -> str:
    """Thrust for each watt of electricity."""
    from ventplan.house.shown import shown_number

    if thrust_per_watt is None:
        return "–"
    if system == "us":
        return f"{shown_number(thrust_per_watt, 'thrust', system):.1f} gf/W"
    return f"{thrust_per_watt * 1000.0:.0f} mN/W"


def _missing(fans: Mapping[str, Fan]) -> list[str]:
    """A note for each figure that some fans lack, since whatever weighs power or noise leaves those fans out."""
    notes = []
    for what, least, lacking in (
        ("power", "power", [name for name, fan in fans.items() if fan.power_w is None]),
        ("sound", "noise", [name for name, fan in fans.items() if fan.sound_db is None]),
    ):
        if lacking:
            notes.append(
                f"No {what} in the house file: {', '.join(lacking)}. `place --least {least}` leaves "
                f"{'it' if len(lacking) == 1 else 'them'} out until it is there."
            )
    return notes


def draw(ranking: Ranking, path: Path, system: System = "si") -> None:
    """Draw driven flow over thrust with the square-root curve."""
    import matplotlib

    matplotlib.use("Agg")
    import numpy as np
    from matplotlib import pyplot as plt

    from ventplan.house.shown import shown_number, shown_unit

    figure, axes = plt.subplots(figsize=(7.0, 4.5), layout="constrained")

    def thrust_of(value: float) -> float:
        return shown_number(value, "thrust", system)

    def flow_of(value: float) -> float:
        return shown_number(value, "flow", system)

    top = max(fan.thrust_n * (1.0 + 1.96 * fan.thrust_error) for fan in ranking.fans) * 1.05
    thrust = np.linspace(0.0, top, 200)
    curve = [flow_of(flow) for flow in ranking.factor * np.sqrt(thrust)]
    axes.plot([thrust_of(value) for value in thrust], curve, color="0.5", label="square root of thrust")
    for place, fan in enumerate(ranking.fans):
        at, reach = (
            (thrust_of(fan.thrust_n), flow_of(fan.driven_m3_s)),
            thrust_of(1.96 * fan.thrust_error * fan.thrust_n),
        )
        axes.errorbar(*at, xerr=reach, fmt="o", capsize=3, color="C0")
        lift = 5 if place % 2 == 0 else -14  # above and below in turn, so that close fans do not overlap
        axes.annotate(fan.name, at, xytext=(4, lift), textcoords="offset points")
    axes.set(
        xlabel=f"thrust [{shown_unit('thrust', system)}], 95 %",
        ylabel=f"flow through the reference window [{shown_unit('flow', system)}]",
        xlim=(0.0, None),
        ylim=(0.0, None),
    )
    axes.legend(frameon=False)
    figure.savefig(path, dpi=150)
    plt.close(figure)

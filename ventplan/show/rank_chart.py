"""The ranking of fans as a picture: driven flow over thrust, with the square-root curve."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ventplan.house.shown import shown_number, shown_unit
from ventplan.show.paper import new_figure

if TYPE_CHECKING:
    from ventplan.house.units import System
    from ventplan.measure.rank import Ranking


def rank_chart(ranking: Ranking, system: System = "si") -> Any:
    """Driven flow over thrust, each fan with the 95 % interval of its thrust, and the curve Q = c sqrt(T)."""
    import numpy as np

    def thrust_of(value: float) -> float:
        return shown_number(value, "thrust", system)

    def flow_of(value: float) -> float:
        return shown_number(value, "flow", system)

    figure = new_figure(504.0, 324.0)
    figure.set_layout_engine("constrained")
    axes = figure.subplots()
    top = max(fan.thrust_n * (1.0 + 1.96 * fan.thrust_error) for fan in ranking.fans) * 1.05
    thrust = np.linspace(0.0, top, 200)
    curve = [flow_of(flow) for flow in ranking.factor * np.sqrt(thrust)]
    axes.plot([thrust_of(value) for value in thrust], curve, color="0.5", label="square root of thrust")
    for place, fan in enumerate(sorted(ranking.fans, key=lambda fan: -fan.driven_m3_s)):
        at = thrust_of(fan.thrust_n), flow_of(fan.driven_m3_s)
        axes.errorbar(*at, xerr=thrust_of(1.96 * fan.thrust_error * fan.thrust_n), fmt="o", capsize=3, color="C0")
        lift = 5 if place % 2 == 0 else -14  # above and below in turn, so that close fans do not overlap
        axes.annotate(fan.name, at, xytext=(4, lift), textcoords="offset points")
    axes.set(
        xlabel=f"thrust [{shown_unit('thrust', system)}], 95 %",
        ylabel=f"flow through the reference window [{shown_unit('flow', system)}]",
        xlim=(0.0, None),
        ylim=(0.0, None),
    )
    axes.legend(frameon=False)
    return figure

"""The ranking of fans as a picture."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from ventplan.measure.rank import Ranking
from ventplan.measure.uncertainty import WIDE
from ventplan.show.charts import ThrustPoint, thrust_chart

if TYPE_CHECKING:
    from ventplan.house.units import System


def rank_chart(ranking: Ranking, system: System = "si") -> Any:
    """Driven flow over thrust, each fan with the 95 % interval of its thrust, and the curve Q = c sqrt(T).

    Parameters
    ----------
    ranking
        The fans.
    system
        Units of the axes.
    """
    points = [
        ThrustPoint(fan.name, fan.thrust_n, fan.driven_m3_s, WIDE * fan.thrust_error * fan.thrust_n)
        for fan in ranking.fans
    ]
    return thrust_chart(points, factor=ranking.factor, title="What the fans drive through the window", system=system)

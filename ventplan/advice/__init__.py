"""Placing fans, setback curves, comparing scenarios."""

from ventplan.advice.comparison import Comparison, compare, how_sure, trade_off
from ventplan.advice.objective import Objective
from ventplan.advice.placement import place
from ventplan.advice.plan import Bottleneck, Change, PlaceAnswer, Plan, Standing, TradeOff, TradeOffPoint
from ventplan.advice.setback import SetbackAnswer, SetbackCurve, setback_curve
from ventplan.advice.weather_placement import place_over

__all__ = [
    "Bottleneck",
    "Change",
    "Comparison",
    "Objective",
    "PlaceAnswer",
    "Plan",
    "SetbackAnswer",
    "SetbackCurve",
    "Standing",
    "TradeOff",
    "TradeOffPoint",
    "compare",
    "how_sure",
    "place",
    "place_over",
    "setback_curve",
    "trade_off",
]

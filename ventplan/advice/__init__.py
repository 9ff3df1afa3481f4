"""Placing fans, setback curves, comparing scenarios."""

from ventplan.advice.aims import Aim
from ventplan.advice.compare import Comparison, compare
from ventplan.advice.over_weather import place_over
from ventplan.advice.place import place
from ventplan.advice.plans import Limit, PlaceAnswer, Plan, Standing, TradeOff, TradeOffPoint
from ventplan.advice.setback import SetbackAnswer, SetbackCurve, setback_curve
from ventplan.advice.sure import how_sure
from ventplan.advice.trade_off import trade_off

__all__ = [
    "Aim",
    "Comparison",
    "Limit",
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

"""Placing fans, setback curves, comparing scenarios."""

from ventplan.advice.aims import Aim
from ventplan.advice.compare import Comparison, compare
from ventplan.advice.place import place
from ventplan.advice.plans import Limit, PlaceAnswer, Plan
from ventplan.advice.setback import SetbackAnswer, SetbackCurve, setback_curve

__all__ = [
    "Aim",
    "Comparison",
    "Limit",
    "PlaceAnswer",
    "Plan",
    "SetbackAnswer",
    "SetbackCurve",
    "compare",
    "place",
    "setback_curve",
]

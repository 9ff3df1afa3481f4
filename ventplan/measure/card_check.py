"""Whether a fan's card can be true: thrust against the momentum of its flow, and against what the file said before."""

from __future__ import annotations

import math

from ventplan.house.records import Fan
from ventplan.measure.fan_card import FanCard
from ventplan.measure.uncertainty import LEAST_CHANCE

MOST_RATIO = 4.0
"""Factor either way that thrust may be off the momentum of an even stream, rho Q^2 / A, and that a measured figure may
be off the one before (a judgement: hub, tips and swirl make 1 to 1.5 of the first)."""


def doubts(
    card: FanCard, *, density_kg_m3: float, diameter_m: float | None = None, before: Fan | None = None
) -> tuple[str, ...]:
    """What cannot well be true of a card, one plain sentence each; nothing where all is well.

    Thrust is held against rho Q^2 / A, A = pi d^2 / 4, and must be within a factor of 4 of it; so must thrust and flow
    be of what the house file says, where somebody typed them. Readings contradict one another where chance alone sets
    them as far apart in fewer than 5 % of campaigns.

    Parameters
    ----------
    card
        The card.
    density_kg_m3
        Density of the air [kg/m3].
    diameter_m
        Diameter of the blades [m]; without it thrust is not held against flow.
    before
        The fan as the house file has it, if it has.
    """
    found = []
    thrust, flow = card.thrust.value, card.flow.value
    if diameter_m is not None:
        even = density_kg_m3 * flow**2 / (math.pi / 4.0 * diameter_m**2)
        if not 1.0 / MOST_RATIO <= thrust / even <= MOST_RATIO:
            found.append(
                f"a stream of {flow:.2f} m³/s through blades of {diameter_m * 100:.0f} cm pushes with about "
                f"{even:.2g} N, and the card says {thrust:.2g} N: flow, thrust, diameter or a setting's name is wrong"
            )
    if before is not None:
        for name, now, was, unit, key in (
            ("thrust", thrust, before.thrust_n, "N", "thrust_n"),
            ("flow", flow, before.flow_m3_s, "m³/s", "flow_m3_s"),
        ):
            if key not in before.estimated and not 1.0 / MOST_RATIO <= now / was <= MOST_RATIO:
                found.append(f"the house file says a {name} of {was:.3g} {unit}, and the card {now:.3g} {unit}")
    found += [
        f"the speed on {setting} is {speed.value:.0%} of the highest: is it a lower setting?"
        for setting, speed in card.speeds.items()
        if not 0.2 <= speed.value <= 1.0 + 2.0 * speed.standard
    ]
    if card.degrees and card.chance < LEAST_CHANCE:
        found.append(
            f"the readings contradict one another: chance alone sets them as far apart in {card.chance:.1%} of "
            f"campaigns, and below {LEAST_CHANCE:.0%} something is wrong; {at_odds(card)}"
        )
    return tuple(found)


def farthest(card: FanCard) -> dict[str, float]:
    """The readings farthest off what the rest says, with how far [standard deviations]; several where all are alike."""
    far = max((abs(score) for score in card.residuals.values()), default=0.0)
    return {label: score for label, score in card.residuals.items() if abs(score) > 0.95 * far > 0.0}


def at_odds(card: FanCard) -> str:
    """Which readings disagree: the one that all others contradict, or both sides where none can be singled out."""
    found = farthest(card)
    above, below = ([label for label, score in found.items() if (score > 0.0) is side] for side in (True, False))
    sides = [f"{' and '.join(side)} {word}" for side, word in ((above, "above"), (below, "below")) if side]
    said = f"{', '.join(sides)} what the rest says by {max(map(abs, found.values())):.1f} standard deviations"
    return said if len(found) == 1 else f"{said} each, so that nothing tells which of them is wrong: look at all again"

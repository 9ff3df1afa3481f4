"""Whether a fan's card can be true: thrust against the momentum of its flow, and against what the file said before."""

from __future__ import annotations

import math

from ventplan.house.records import Fan
from ventplan.measure.fan_card import FanCard

MOST_RATIO = 4.0
"""Factor either way that thrust may be off the momentum of an even stream, rho Q^2 / A, and that a measured figure may
be off the one before (a judgement: hub, tips and swirl make 1 to 1.5 of the first)."""

MOST_WIDENED = 3.0
"""Factor by which contradictions may widen uncertainties before a weighted mean of them says nothing (a judgement)."""


def doubts(
    card: FanCard, *, density_kg_m3: float, diameter_m: float | None = None, before: Fan | None = None
) -> tuple[str, ...]:
    """What cannot well be true of a card, one plain sentence each; nothing where all is well.

    Thrust is held against rho Q^2 / A, A = pi d^2 / 4, and must be within a factor of 4 of it; so must thrust and flow
    be of what the house file says, where somebody typed them.

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
    if card.inflated > MOST_WIDENED:
        worst = max(card.contradictions, key=lambda one: abs(one.normalised), default=None)
        found.append(f"the readings contradict one another far beyond chance{f', {worst.label} most' if worst else ''}")
    return tuple(found)

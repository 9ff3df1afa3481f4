"""Jets that pass several openings in line: what is left of them at one opening blows at the next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.house.records import OUTDOORS, House, Scenario
from ventplan.network.assemble import Assembled, opening_links
from ventplan.network.jets import MAX_IN_LINE, JetAtOpening, captures_at, jet_in_line
from ventplan.network.links import FlowNetwork, Strip
from ventplan.network.solver import solve_pressures

Floats = NDArray[np.float64]

IN_LINE_TOLERANCE_PA = 1e-6
"""Jets in line are settled where a round moves no pressure by more than this; the next would move it by far less."""
IN_LINE_ROUNDS = 60
PATIENCE = 12
"""Rounds after which a jet that comes and goes is left out: it is too weak to hold open the way that it came by."""


def passed_on(assembled: Assembled, pressure_pa: Floats) -> dict[tuple[str, str], tuple[float, float]]:
    """Flow and momentum that leave each blown opening with its jets, by opening and side [m3/s], [N].

    Parameters
    ----------
    assembled
        The house as arrays.
    pressure_pa
        Solved pressures, shape (rooms,) [Pa].

    Notes
    -----
    The ejector's balance leaves beta rho Q^2 / Ac in the stream: what back pressure and screen took is gone.
    """
    network = assembled.network
    forward, backward = network.volume_flows(network.driving_pressure(pressure_pa))
    names = (*network.nodes, OUTDOORS)
    left = {}
    for link, strip in enumerate(assembled.strips):
        if strip.jet_from < 0:
            continue
        name, place = assembled.openings[strip.owner], names[strip.jet_from]
        flow = float(forward[link] if strip.jet_from == strip.a else backward[link])
        _, quadratic = assembled.captures[name, place].covered_coefficients(density=assembled.density[place])
        left[name, place] = (flow, quadratic * flow**2 / (strip.width_m * strip.height_m))
    return left


def settle_in_line(
    house: House, scenario: Scenario, assembled: Assembled, pressure: Floats
) -> tuple[Assembled, Floats]:
    """Solve again until what the jets leave over at one opening is what they bring to the next."""
    before, fleeting = set[str](), set[str]()
    for turn in range(IN_LINE_ROUNDS):
        found = jets_in_line(house, scenario, assembled, passed_on(assembled, pressure))
        reached = {jet.opening for jet in found}
        fleeting |= before - reached if turn >= PATIENCE else set()
        jets, before = tuple(jet for jet in found if jet.opening not in fleeting), reached
        if not jets and not any(jet.after for jet in assembled.jets):
            return assembled, pressure
        assembled = with_jets_in_line(house, scenario, assembled, jets)
        settled = solve_pressures(assembled.network, start_pa=pressure)
        change = float(np.max(np.abs(settled - pressure)))
        pressure = settled
        if change < IN_LINE_TOLERANCE_PA:
            return assembled, pressure
    raise NoAnswerError(
        f"the jets that pass several openings in line do not settle in scenario {scenario.name!r}: the pressure still "
        f"moves by {change:.2g} Pa. Try to shut one of the openings in line."
    )


def with_jets_in_line(
    house: House, scenario: Scenario, before: Assembled, in_line: tuple[JetAtOpening, ...]
) -> Assembled:
    """The same house with other jets in line; only the openings that they reach are made again.

    Parameters
    ----------
    house, scenario
        The house and its state.
    before
        What was assembled for them.
    in_line
        The jets in line now.
    """
    direct = tuple(jet for jet in before.jets if not jet.after)
    changed = {jet.opening for jet in (*before.jets, *in_line) if jet.after}
    jets = (*direct, *in_line)
    captured = {key: capture for key, capture in before.captures.items() if key[0] not in changed}
    captured |= captures_at(house, scenario, (jet for jet in jets if jet.opening in changed), before.density)
    strips: list[Strip] = []
    for owner, name in enumerate(before.openings):
        if name in changed:
            strips += opening_links(house, scenario, name, before.density, before.wind_pa, captured)[0]
        else:
            strips += [strip for strip in before.strips if strip.owner == owner]
    network = FlowNetwork(tuple(house.rooms), strips, before.cracks)
    return replace(before, network=network, strips=tuple(strips), jets=jets, captures=captured)


def jets_in_line(
    house: House,
    scenario: Scenario,
    assembled: Assembled,
    passed: Mapping[tuple[str, str], tuple[float, float]],
) -> tuple[JetAtOpening, ...]:
    """Jets at the next openings in line, from what the solved jets leave over.

    Parameters
    ----------
    house, scenario
        The house and its state.
    assembled
        The house as arrays, with the jets it had.
    passed
        Flow [m3/s] and momentum [N] that leave each blown opening with the jets, by opening and side.

    Returns
    -------
    tuple of JetAtOpening
        Empty where no jet reaches a second opening.
    """
    found: list[JetAtOpening] = []
    front = [(jet, 1) for jet in assembled.jets if not jet.after]
    while front:
        jet, depth = front.pop()
        whole = assembled.captures[jet.opening, jet.stands_in]
        flow, momentum = passed.get((jet.opening, jet.stands_in), (whole.flow_m3_s, whole.momentum_n))
        place = house.openings[jet.opening].other(jet.stands_in)
        after = jet_in_line(house, scenario, jet, flow_m3_s=flow, momentum_n=momentum, density=assembled.density[place])
        if after is None or any(other.opening == after.opening for other in found):
            continue
        found.append(after)
        if depth < MAX_IN_LINE - 1:
            known = (after.opening, after.stands_in) in assembled.captures
            front += [(after, depth + 1)] if known else []
    return tuple(found)

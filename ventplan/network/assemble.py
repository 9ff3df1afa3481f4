"""From a house in one state to arrays, with the couplings of openings in line.

Air leaves an opening as a jet: an inflow jet where it enters through a window, or what passes of the jet of a fan. The
dynamic pressure of that jet is what the pressure drop across the opening has become. The jet spreads through the room,
and what the next opening captures of it drives that opening as well,

    x_j = dp_j + sum over i of share_ij max(drop_i, 0)                           (`ventplan.network.links.Coupling`)

The share is the mean dynamic pressure of the jet over opening j, less what it would be if the jet were mixed evenly
over the room, divided by the dynamic pressure at its start less the same:

    share = (F - f) / (1 - f),   F = C A_i S / A_j,   f = C A_i / A_room

with S the share of its momentum that opening j captures (as of a fan's jet), and C A_i the area of the vena contracta.
The mixed part is in the loss of opening i already (`ventplan.physics.orifice.confined_loss_ratio`). The shares depend
on geometry alone, so the network stays a system of monotone laws with fixed couplings. Since sum_j A_j F_ij <= C A_i,
the openings behind i never get more power than is lost in i.

All openings that a jet reaches share it by area, so the order of rooms and openings in the file does not matter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from ventplan.house.geometry import free_rectangle, normal_from, tangent_of
from ventplan.house.records import OUTDOORS, House, Opening, Room, Scenario
from ventplan.network.jets import (
    JetAtOpening,
    Ray,
    captured_share,
    captures_at,
    in_sight,
    jets_of_fan,
    open_openings,
    runs_towards,
)
from ventplan.network.links import Coupling, Crack, FlowNetwork, Strip
from ventplan.network.openings import (
    NO_FLOW,
    cross_section_m2,
    opening_links,
    screen_loss,
    temperature_at,
    wall_cracks,
)
from ventplan.network.weather import densities, wind_pressures
from ventplan.physics.jet import ROUND_JET_SPREAD
from ventplan.physics.jet_capture import JetCapture, capture_jets
from ventplan.physics.jet_path import JetAtPlane, JetSource
from ventplan.physics.orifice import WIDEST_SHARE


@dataclass(frozen=True)
class Assembled:
    """A house in one state as arrays, and what they were made from.

    Attributes
    ----------
    house, scenario
        The house and its state.
    network
        The arrays; ``owner`` counts the openings of the house.
    strips, cracks
        The links, in the order of the arrays.
    density
        Density of the air by place [kg/m3].
    wind_pa
        Wind pressure by external opening [Pa].
    jets
        Jets of fans at openings, including those that have passed another opening.
    captures
        What openings capture of the jets that reach them directly, by opening and side.
    """

    house: House
    scenario: Scenario
    network: FlowNetwork
    strips: tuple[Strip, ...]
    cracks: tuple[Crack, ...]
    density: Mapping[str, float]
    wind_pa: Mapping[str, float]
    jets: tuple[JetAtOpening, ...]
    captures: Mapping[tuple[str, str], JetCapture]


def assemble(house: House, scenario: Scenario) -> Assembled:
    """Turn a house in one state into arrays.

    Parameters
    ----------
    house, scenario
        The house and its state.
    """
    density, wind_pa = densities(house, scenario), wind_pressures(house, scenario)
    jets = [
        jet
        for placement in scenario.placements
        if not placement.sealed
        for jet in jets_of_fan(house, scenario, placement, density[placement.stands_in])
    ]
    captures = captures_at(house, scenario, jets, density)
    links = [opening_links(house, scenario, name, density, wind_pa, captures) for name in house.openings]
    strips = tuple(strip for of_opening, _ in links for strip in of_opening)
    cracks = (*(crack for _, of_opening in links for crack in of_opening), *wall_cracks(house, scenario, density))
    network = FlowNetwork(tuple(house.rooms), strips, cracks, couplings_in_line(house, scenario, strips, jets))
    every_jet = (*jets, *jets_in_line(house, scenario, jets))
    return Assembled(house, scenario, network, strips, cracks, density, wind_pa, every_jet, captures)


MAX_IN_LINE = 3
"""Number of openings in line that one jet is followed through."""
LEAST_DROP_SHARE = 0.005
"""Share of a pressure drop below which a coupling is left out [-]."""
LEAST_MOMENTUM = 0.02
"""Share of the momentum of a jet below which what passes an opening is not followed [-]."""
JET_FACE_SPEED_M_S = 0.6
"""Face velocity in a jet for which the share of a screen in the drop across its opening is taken [m/s]."""


@dataclass(frozen=True)
class Reached:
    """An opening that a jet reaches.

    Attributes
    ----------
    jet
        The jet at that opening.
    share
        Share of the momentum at its start that the opening captures [-].
    """

    jet: JetAtOpening
    share: float


def _inflow_ray(opening: Opening, share: float, place: str) -> Ray:
    """Axis of the jet of the air that enters a room through an opening, with unit momentum."""
    free = free_rectangle(opening, share)
    nx, ny = normal_from(opening, opening.other(place))
    narrow = math.sqrt(opening.discharge)
    source = JetSource(1.0, free.width_m * narrow, free.height_m * narrow, ROUND_JET_SPREAD)
    return Ray(place, free.x, free.y, free.z, nx, ny, 0.0, source)


def _ray_behind(opening: Opening, share: float, jet: JetAtPlane, ray: Ray) -> Ray:
    """Axis of what passes an opening of a jet, with unit momentum: as wide as the jet, or as the opening."""
    free = free_rectangle(opening, share)
    even = math.sqrt(2.0 * math.pi)
    width, height = min(even * jet.y_half_width_m, free.width_m), min(even * jet.z_half_width_m, free.height_m)
    aside = _clamped(jet.y_m, (free.width_m - width) / 2.0)
    above = _clamped(jet.z_m, (free.height_m - height) / 2.0)
    tx, ty = tangent_of(opening)
    return replace(
        ray,
        place=opening.other(ray.place),
        x=free.x + aside * tx,
        y=free.y + aside * ty,
        z=free.z + above,
        source=JetSource(1.0, width, height, ray.source.spread),
    )


def _clamped(value: float, most: float) -> float:
    return min(max(value, -most), most)


def _reached(house: House, scenario: Scenario, ray: Ray, after: str, depth: int = 1) -> Iterator[Reached]:
    """Openings that a jet reaches behind the opening ``after``, and behind those, up to `MAX_IN_LINE`."""
    room = house.rooms.get(ray.place)
    if room is None:
        return
    for opening, part in open_openings(house, scenario, ray.place):
        if opening.name == after or not runs_towards(ray, opening):
            continue
        found = _captured(room, ray, opening, part)
        if found is None or found[1] < LEAST_MOMENTUM:
            continue
        jet, share = found
        yield Reached(JetAtOpening(opening.name, ray.place, jet, ray, after), share)
        if depth < MAX_IN_LINE:
            beyond = _ray_behind(opening, part, jet, ray)
            for farther in _reached(house, scenario, beyond, opening.name, depth + 1):
                yield replace(farther, share=share * farther.share)


@lru_cache(maxsize=16384)
def _captured(room: Room, ray: Ray, opening: Opening, share: float) -> tuple[JetAtPlane, float] | None:
    """The jet in the plane of an opening, and the share of its momentum that the opening captures."""
    free = free_rectangle(opening, share)
    found = captured_share(room, ray, opening, free, closed=False)
    return found if found is not None and in_sight(room, ray, opening, free) else None


def jets_in_line(house: House, scenario: Scenario, jets: Sequence[JetAtOpening]) -> tuple[JetAtOpening, ...]:
    """Jets of fans behind the openings that they are aimed at, at each further opening that they reach.

    Parameters
    ----------
    house, scenario
        The house and its state.
    jets
        Jets at the openings that they reach directly.

    Returns
    -------
    tuple of JetAtOpening
        With the momentum that the openings before capture if nothing else drives air.
    """
    found = []
    for jet in jets:
        opening, part = house.openings[jet.opening], scenario.shares[jet.opening]
        free = free_rectangle(opening, part)
        captured = capture_jets(jets=[jet.at_plane], width_m=free.width_m, height_m=free.height_m, density=1.0)
        beyond = _ray_behind(opening, part, jet.at_plane, jet.ray)
        for reached in _reached(house, scenario, beyond, jet.opening):
            source = replace(reached.jet.ray.source, thrust_n=captured.momentum_n)
            at_plane = replace(reached.jet.at_plane, momentum_n=captured.momentum_n * reached.jet.at_plane.momentum_n)
            found.append(replace(reached.jet, at_plane=at_plane, ray=replace(reached.jet.ray, source=source)))
    return tuple(found)


def couplings_in_line(
    house: House, scenario: Scenario, strips: Sequence[Strip], jets: Sequence[JetAtOpening]
) -> list[Coupling]:
    """How the pressure drop across each opening drives the openings in line with it.

    Parameters
    ----------
    house, scenario
        The house and its state.
    strips
        All strips of the network, in its order.
    jets
        Jets of fans at openings.

    Returns
    -------
    list of Coupling
        By the indices of the strips.
    """
    openings, places = list(house.openings.values()), (*house.rooms, OUTDOORS)
    sealed = {placement.opening for placement in scenario.placements if placement.sealed}
    strips_of: dict[str, list[int]] = {}
    for index, strip in enumerate(strips):
        strips_of.setdefault(openings[strip.owner].name, []).append(index)
    by_strength = sorted(jets, key=lambda jet: (jet.at_plane.momentum_n, jet.ray.x, jet.ray.y, jet.ray.z))
    strongest = {(jet.opening, jet.stands_in): jet for jet in by_strength}
    found = []
    for index, strip in enumerate(strips):
        opening = openings[strip.owner]
        if opening.is_horizontal or opening.name in sealed:
            continue
        for sign, start, end in ((1.0, strip.a, strip.b), (-1.0, strip.b, strip.a)):
            place = places[end]
            if place == OUTDOORS or strip.jet_from == end or strip.losses(sign)[0] >= NO_FLOW[0]:
                continue
            part, jet = scenario.shares[opening.name], strongest.get((opening.name, places[start]))
            if strip.jet_from >= 0 and jet is not None:
                ray = _ray_behind(opening, part, jet.at_plane, jet.ray)
            else:
                ray = _inflow_ray(opening, part, place)
            passing = _Passing(house, scenario, opening, strip, sign, place)
            for reached in _reached(house, scenario, ray, opening.name):
                target = house.openings[reached.jet.opening]
                share = passing.share_at(target, reached.share)
                if share < LEAST_DROP_SHARE or target.name in sealed:
                    continue
                direction = 1.0 if target.joins[0] == reached.jet.stands_in else -1.0
                for each in strips_of[target.name]:  # Where a fan's jet covers the strip, the momentum of both adds up.
                    covered = strips[each].jet_from >= 0 and places[strips[each].jet_from] == reached.jet.stands_in
                    found.append(Coupling(index, each, sign, direction * (min(2.0 * share, 1.0) if covered else share)))
    return found


class _Passing:
    """The air that passes one strip of an opening in one direction, into a room."""

    def __init__(
        self, house: House, scenario: Scenario, opening: Opening, strip: Strip, sign: float, place: str
    ) -> None:
        self.scenario = scenario
        covered, area = strip.jet_from >= 0, strip.width_m * strip.height_m
        self.narrowest_m2 = area if covered else opening.discharge * area
        whole = free_rectangle(opening, scenario.shares[opening.name]).area_m2
        self.mixed = min(self.narrowest_m2 / cross_section_m2(house, opening, place, whole), WIDEST_SHARE)
        # The part of the drop that becomes dynamic pressure: not the loss of a screen, and half of it in a fan's jet.
        self.dynamic = 0.5 if covered else 1.0
        (linear, quadratic), density = strip.losses(sign), strip.density_a if sign > 0.0 else strip.density_b
        _, screen = screen_loss(scenario, opening, density, temperature_at(scenario, opening.other(place)))
        if screen > 0.0:
            self.dynamic *= (quadratic - screen) / (quadratic + linear / JET_FACE_SPEED_M_S)

    def share_at(self, target: Opening, momentum_share: float) -> float:
        """Share of the drop that drives an opening which captures this share of the momentum."""
        area = free_rectangle(target, self.scenario.shares[target.name]).area_m2
        captured = self.narrowest_m2 * momentum_share / area
        return self.dynamic * max(captured - self.mixed, 0.0) / (1.0 - self.mixed)

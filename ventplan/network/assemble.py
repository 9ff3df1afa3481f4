"""From a house in one state to arrays, with the couplings of openings in line.

Air that comes through an opening leaves it as a jet: the air that enters through a window, and what passes an opening
with the jet of a fan. Its dynamic pressure is what the pressure drop across that opening has become. It spreads through
the room, and an opening that it meets is driven by what of it is caught there,

    x_j = dp_j + sum over i of share_ij max(drop_i, 0)                           (`ventplan.network.links.Coupling`)

where the share is the mean dynamic pressure of the jet over the opening j less what it would have there if it were
mixed evenly over the room, over the dynamic pressure at its start in excess of the same:

    share = (F - f) / (1 - f),   F = C A_i S / A_j,   f = C A_i / A_room

with S the share of its momentum that the opening j catches (as a fan's jet), and C A_i the area where the stream is
narrowest. The mixed part is in the loss of opening i already (`ventplan.physics.orifice.confined_loss_ratio`). The
shares depend on geometry alone, so the network stays a system of monotone laws with fixed couplings. Since
sum_j A_j F_ij <= C A_i, what the openings behind i get is never more than the power that is lost in i.

Everything that a stream meets shares it, by area, so the order of rooms and openings in the file has no say.
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
    """A house as arrays, with what is needed to read the answer back.

    Attributes
    ----------
    network
        The arrays.
    openings
        Names of the openings, in the order that ``owner`` counts.
    strips, cracks
        What the arrays were made from, in the same order.
    density
        Density of the air by place [kg/m3].
    wind_pa
        Wind pressure by external opening [Pa].
    jets
        Jets of fans at openings, those that have passed another one included.
    captures
        What of them goes into the openings that fans blow at and those beside them, by opening and side.
    """

    network: FlowNetwork
    openings: tuple[str, ...]
    strips: tuple[Strip, ...]
    cracks: tuple[Crack, ...]
    density: Mapping[str, float]
    wind_pa: Mapping[str, float]
    jets: tuple[JetAtOpening, ...]
    captures: Mapping[tuple[str, str], JetCapture]


def direct_jets(house: House, scenario: Scenario, density: Mapping[str, float]) -> list[JetAtOpening]:
    """Jets at the openings that fans blow at, and at those beside them."""
    jets: list[JetAtOpening] = []
    for placement in scenario.placements:
        if not placement.sealed:
            jets += jets_of_fan(house, scenario, placement, density[placement.stands_in])
    return jets


def assemble(house: House, scenario: Scenario) -> Assembled:
    """Turn a house in one state into arrays.

    Parameters
    ----------
    house, scenario
        The house and its state.

    Returns
    -------
    Assembled
        Arrays and their origin.
    """
    density, wind_pa = densities(house, scenario), wind_pressures(house, scenario)
    jets = direct_jets(house, scenario, density)
    captured = captures_at(house, scenario, jets, density)
    strips: list[Strip] = []
    cracks: list[Crack] = []
    for name in house.openings:
        more_strips, more_cracks = opening_links(house, scenario, name, density, wind_pa, captured)
        strips += more_strips
        cracks += more_cracks
    cracks += wall_cracks(house, scenario, density)
    couplings = couplings_in_line(house, scenario, strips, jets)
    network = FlowNetwork(tuple(house.rooms), strips, cracks, couplings)
    every_jet = (*jets, *jets_in_line(house, scenario, jets))
    return Assembled(
        network, tuple(house.openings), tuple(strips), tuple(cracks), density, wind_pa, every_jet, captured
    )


MAX_IN_LINE = 3
"""How many openings in line one stream is followed through."""
LEAST_SHARE = 0.005
"""Share of a pressure drop below which what arrives at the next opening is left out [-]."""
LEAST_MOMENTUM = 0.02
"""Share of a stream's momentum below which what passes an opening is not followed any farther [-]."""
SCREEN_SPEED_M_S = 0.6
"""Speed through a screen for which the part of its loss in the drop of an opening is taken [m/s]."""


@dataclass(frozen=True)
class Reached:
    """An opening that a stream reaches.

    Attributes
    ----------
    jet
        The stream at that opening.
    share
        Share of the momentum at its start that the opening catches [-].
    """

    jet: JetAtOpening
    share: float


def inflow_ray(opening: Opening, share: float, place: str) -> Ray:
    """The axis of the air that enters a room through an opening, with unit momentum.

    Parameters
    ----------
    opening
        The opening.
    share
        Free share of its frame [-].
    place
        The room that the air enters.
    """
    free = free_rectangle(opening, share)
    nx, ny = normal_from(opening, opening.other(place))
    narrow = math.sqrt(opening.discharge)
    source = JetSource(1.0, free.width_m * narrow, free.height_m * narrow, ROUND_JET_SPREAD)
    return Ray(place, free.x, free.y, free.z, nx, ny, 0.0, source)


def ray_behind(opening: Opening, share: float, jet: JetAtPlane, ray: Ray) -> Ray:
    """The axis of what of a jet passes an opening, with unit momentum: as wide as the jet, or as the opening.

    Parameters
    ----------
    opening
        The opening that it passes.
    share
        Free share of its frame [-].
    jet, ray
        The jet in the plane of the opening, and its axis before.
    """
    free = free_rectangle(opening, share)
    even = math.sqrt(2.0 * math.pi)
    width, height = min(even * jet.y_half_width_m, free.width_m), min(even * jet.z_half_width_m, free.height_m)
    aside = _within(jet.y_m, (free.width_m - width) / 2.0)
    above = _within(jet.z_m, (free.height_m - height) / 2.0)
    tx, ty = tangent_of(opening)
    source = JetSource(1.0, width, height, ray.source.spread)
    return replace(
        ray,
        place=opening.other(ray.place),
        x=free.x + aside * tx,
        y=free.y + aside * ty,
        z=free.z + above,
        source=source,
    )


def _within(value: float, most: float) -> float:
    return min(max(value, -most), most)


def reached_in_line(house: House, scenario: Scenario, ray: Ray, after: str, depth: int = 1) -> Iterator[Reached]:
    """All openings that a stream reaches, one behind the other, and what share of its momentum each catches.

    Parameters
    ----------
    house, scenario
        The house and its state.
    ray
        Its axis behind the opening that it comes through.
    after
        Name of that opening.
    depth
        How many openings it has passed.
    """
    room = house.rooms.get(ray.place)
    if room is None:
        return
    for opening, part in open_openings(house, scenario, ray.place):
        if opening.name == after or not runs_towards(ray, opening):
            continue
        found = _caught(room, ray, opening, part)
        if found is None or found[1] < LEAST_MOMENTUM:
            continue
        jet, share = found
        yield Reached(JetAtOpening(opening.name, ray.place, jet, ray, after), share)
        if depth < MAX_IN_LINE:
            beyond = ray_behind(opening, part, jet, ray)
            for farther in reached_in_line(house, scenario, beyond, opening.name, depth + 1):
                yield replace(farther, share=share * farther.share)


@lru_cache(maxsize=16384)
def _caught(room: Room, ray: Ray, opening: Opening, share: float) -> tuple[JetAtPlane, float] | None:
    """The stream in the plane of an opening, and the share of its momentum that the opening catches."""
    free = free_rectangle(opening, share)
    found = captured_share(room, ray, opening, free, closed=False)
    return found if found is not None and in_sight(room, ray, opening, free) else None


def jets_in_line(house: House, scenario: Scenario, jets: Sequence[JetAtOpening]) -> tuple[JetAtOpening, ...]:
    """What goes on of the jets of fans behind the openings that they are blown at, at each opening that it reaches.

    Parameters
    ----------
    house, scenario
        The house and its state.
    jets
        Jets at the openings that fans blow at, and at those beside them.

    Returns
    -------
    tuple of JetAtOpening
        With the momentum that the openings before them catch where nothing else drives air.
    """
    found = []
    for jet in jets:
        opening, part = house.openings[jet.opening], scenario.shares[jet.opening]
        free = free_rectangle(opening, part)
        captured = capture_jets(jets=[jet.at_plane], width_m=free.width_m, height_m=free.height_m, density=1.0)
        beyond = ray_behind(opening, part, jet.at_plane, jet.ray)
        for reached in reached_in_line(house, scenario, beyond, jet.opening):
            source = replace(reached.jet.ray.source, thrust_n=captured.momentum_n)
            at_plane = replace(reached.jet.at_plane, momentum_n=captured.momentum_n * reached.jet.at_plane.momentum_n)
            found.append(replace(reached.jet, at_plane=at_plane, ray=replace(reached.jet.ray, source=source)))
    return tuple(found)


def couplings_in_line(
    house: House, scenario: Scenario, strips: Sequence[Strip], jets: Sequence[JetAtOpening]
) -> list[Coupling]:
    """How the drop across each opening drives those that its stream reaches.

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
    owned: dict[str, list[int]] = {}
    for index, strip in enumerate(strips):
        owned.setdefault(openings[strip.owner].name, []).append(index)
    by_strength = sorted(jets, key=lambda jet: (jet.at_plane.momentum_n, jet.ray.x, jet.ray.y, jet.ray.z))
    strongest = {(jet.opening, jet.stands_in): jet for jet in by_strength}
    found = []
    for index, strip in enumerate(strips):
        opening = openings[strip.owner]
        if opening.is_horizontal or opening.name in sealed:
            continue
        for sign in (1.0, -1.0):
            start, place = (places[strip.a], places[strip.b]) if sign > 0.0 else (places[strip.b], places[strip.a])
            linear = strip.linear_a if sign > 0.0 else strip.linear_b
            against = strip.jet_from >= 0 and places[strip.jet_from] != start
            if place == OUTDOORS or linear >= NO_FLOW[0] or against:
                continue
            part, jet = scenario.shares[opening.name], strongest.get((opening.name, start))
            if strip.jet_from >= 0 and jet is not None:
                ray = ray_behind(opening, part, jet.at_plane, jet.ray)
            else:
                ray = inflow_ray(opening, part, place)
            stream = _Stream(house, scenario, opening, strip, sign, place)
            for reached in reached_in_line(house, scenario, ray, opening.name):
                target = house.openings[reached.jet.opening]
                share = stream.share_at(target, reached.share)
                if share < LEAST_SHARE or target.name in sealed:
                    continue
                way = 1.0 if target.joins[0] == reached.jet.stands_in else -1.0
                for each in owned[target.name]:
                    blown = strips[each].jet_from >= 0 and places[strips[each].jet_from] == reached.jet.stands_in
                    found.append(Coupling(index, each, sign, way * (min(2.0 * share, 1.0) if blown else share)))
    return found


class _Stream:
    """The air behind one strip of an opening, in one direction."""

    def __init__(
        self, house: House, scenario: Scenario, opening: Opening, strip: Strip, sign: float, place: str
    ) -> None:
        self.house, self.scenario = house, scenario
        area = strip.width_m * strip.height_m
        blown = strip.jet_from >= 0
        self.narrowest_m2 = area if blown else opening.discharge * area
        whole = free_rectangle(opening, scenario.shares[opening.name]).area_m2
        self.mixed = min(self.narrowest_m2 / cross_section_m2(house, opening, place, whole), WIDEST_SHARE)
        self.dynamic = (0.5 if blown else 1.0) * self._without_screen(opening, strip, sign, opening.other(place))

    def _without_screen(self, opening: Opening, strip: Strip, sign: float, start: str) -> float:
        """Part of the drop that is not the loss of a screen [-]."""
        linear, quadratic = (strip.linear_a, strip.quadratic_a) if sign > 0.0 else (strip.linear_b, strip.quadratic_b)
        density = strip.density_a if sign > 0.0 else strip.density_b
        _, screen = screen_loss(self.scenario, opening, density, temperature_at(self.scenario, start))
        if screen <= 0.0:
            return 1.0
        return (quadratic - screen) / (quadratic + linear / SCREEN_SPEED_M_S)

    def share_at(self, target: Opening, momentum_share: float) -> float:
        """Share of the drop that drives an opening which catches this share of the stream's momentum."""
        area = free_rectangle(target, self.scenario.shares[target.name]).area_m2
        caught = self.narrowest_m2 * momentum_share / area
        return self.dynamic * max(caught - self.mixed, 0.0) / (1.0 - self.mixed)

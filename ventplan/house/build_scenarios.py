"""Complete states of the house from what the file says of scenarios."""

from __future__ import annotations

from collections.abc import Mapping

from ventplan.house.build_openings import opened_share
from ventplan.house.build_placements import placements_of, standing_fans
from ventplan.house.build_rooms import build_outdoors
from ventplan.house.catalogue import sashes
from ventplan.house.fields import listed
from ventplan.house.reading import Reading, validate
from ventplan.house.records import House, Opening, Placement, Scenario
from ventplan.house.schema import OpeningSpec, ScenarioSpec
from ventplan.house.yaml_text import Path_

AS_IT_STANDS = "as it stands"
"""Name of the first scenario: the house as its file states it."""


def build_scenarios(reading: Reading, house: House) -> dict[str, Scenario]:
    """Every scenario, on top of the house as it stands."""
    section = reading.section("scenarios", "a name for each scenario")
    specs: dict[str, ScenarioSpec] = {}
    for name, data in section.items():
        spec = validate(reading.source, ("scenarios", name), data, ScenarioSpec, reading.names)
        if spec is not None:
            specs[name] = spec
    if AS_IT_STANDS not in section:
        specs[AS_IT_STANDS] = ScenarioSpec.model_validate({})
    if AS_IT_STANDS in specs:  # always the first
        specs = {AS_IT_STANDS: specs[AS_IT_STANDS], **specs}
    done: dict[str, Scenario] = {}
    for name in specs:
        if name not in done:
            resolve(reading, house, specs, name, done, ())
    return {name: done[name] for name in specs if name in done}


def resolve(
    reading: Reading,
    house: House,
    specs: dict[str, ScenarioSpec],
    name: str,
    done: dict[str, Scenario],
    chain: tuple[str, ...],
) -> Scenario | None:
    """One scenario after the one it is based on; a ring of them is an error."""
    if name in done:
        return done[name]
    if name in chain:
        ring = " -> ".join((*chain[chain.index(name) :], name))
        reading.report(
            ("scenarios", name, "based on"),
            f"a ring: {ring}",
            "a scenario that does not lead back to this one",
        )
        return None
    if name not in specs or len(chain) > 200:
        return None
    spec = specs[name]
    base = as_it_stands(house)
    if spec.based_on is not None:
        found = resolve(reading, house, specs, spec.based_on, done, (*chain, name))
        if found is None:
            return None
        base = found
    done[name] = apply(reading, house, name, spec, base)
    return done[name]


def as_it_stands(house: House, name: str = AS_IT_STANDS) -> Scenario:
    """The house as its file states it: every opening as it stands, every screen in place, no fan."""
    first = next(iter(house.scenarios.values()))
    return Scenario(
        name,
        {n: o.open_share for n, o in house.openings.items()},
        frozenset(n for n, o in house.openings.items() if o.screen),
        (),
        first.outdoors,
        {n: r.temperature_c for n, r in house.rooms.items()},
    )


def apply(reading: Reading, house: House, name: str, spec: ScenarioSpec, base: Scenario) -> Scenario:
    """The base with what a scenario changes."""
    path: Path_ = ("scenarios", name)
    shares = dict(base.shares)
    for opening, amount in spec.open.items():
        if opening in house.openings:
            record, its_spec = house.openings[opening], reading.opening_specs[opening]
            here = (*path, "open", opening)
            if not record.can_move and amount.value > 0.0 and not record.open_share:
                found = f"{opening}, which cannot be opened ({why_still(its_spec, record)})"
                reading.report(here, found, "an opening that moves")
                continue
            share = opened_share(reading, here, its_spec, sashes()[record.sash], record.full_share, amount)
            shares[opening] = shares[opening] if share is None else share
    for i, opening in enumerate(spec.shut):
        if opening in spec.open and spec.open[opening].value > 0.0:
            reading.report((*path, "shut", i), f"{opening}, which the same scenario opens", "open or shut, not both")
        if opening in house.openings:
            record = house.openings[opening]
            if not record.can_move and record.open_share > 0.0:
                reading.report(
                    (*path, "shut", i),
                    f"{opening}, which stays as it is ({why_still(reading.opening_specs[opening], record)})",
                    "an opening that moves",
                )
                continue
            shares[opening] = 0.0
    temperatures = dict(base.temperatures_c)
    if spec.indoors.temperature is not None:
        temperatures = dict.fromkeys(temperatures, spec.indoors.temperature)
    temperatures.update({n: t for n, t in spec.indoors.rooms.items() if n in temperatures})
    fans = placements_of(reading, house, path, spec, base)
    fans = standing_fans(reading, house, path, spec, fans, shares)
    check_open(reading, path, spec, fans, shares)
    return Scenario(
        name,
        shares,
        screened(reading, house, path, spec, base),
        fans,
        build_outdoors(reading, spec.outdoors, base.outdoors, note=False),
        temperatures,
    )


def why_still(spec: OpeningSpec, opening: Opening) -> str:
    """Why an opening can be neither opened nor shut."""
    if not spec.moves:
        return "moves: no"
    return f"a {opening.kind} without a sash" if opening.sash == "none" else f"sash {opening.sash}"


def check_open(
    reading: Reading, path: Path_, spec: ScenarioSpec, fans: tuple[Placement, ...], shares: Mapping[str, float]
) -> None:
    """A fan that is not sealed into its opening blows at an open one; also where the base placed it."""
    for placement in fans:
        name = placement.opening
        if placement.sealed or shares[name] > 0.0:
            continue
        here = path
        for i, item in enumerate(spec.fans or ()):
            ways = {"blows out": item.out, "blows in": item.inwards, "blows through": item.through}
            key = next((key for key, opening in ways.items() if opening == name), None)
            if item.fan == placement.fan and key is not None:
                here = (*path, "fans", i, key)
        reading.source.report(
            here,
            f"{placement.fan} blowing at {name}, which is shut in this scenario",
            "an opening that is open in it",
            f"Add it: open: [{name}]",
            at_key=here == path,
        )


def screened(reading: Reading, house: House, path: Path_, spec: ScenarioSpec, base: Scenario) -> frozenset[str]:
    """Which screens are in place."""
    if spec.screens is None:
        return base.screened
    every = frozenset(n for n, o in house.openings.items() if o.screen)
    if spec.screens in ("on", "off"):
        return every if spec.screens == "on" else frozenset()
    for i, name in enumerate(spec.screens):
        if name in house.openings and name not in every:
            hint = f"Give it one: screen: fine 18x16 under openings > {name}"
            reading.report(
                (*path, "screens", i),
                f"{name}, which has no screen",
                f"openings with one: {listed(sorted(every))}",
                hint,
            )
    return frozenset(spec.screens) & every

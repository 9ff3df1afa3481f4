"""The one way from a house file to a ``House``: every error in the file at once, or the whole house."""

from __future__ import annotations

import difflib
from dataclasses import replace
from pathlib import Path
from typing import Any

from ventplan.errors import InputError, InvalidValue
from ventplan.house.build_fans import build_fans
from ventplan.house.build_openings import build_openings
from ventplan.house.build_rooms import base_weather, build_obstacles, build_outdoors, build_people, build_rooms
from ventplan.house.catalogue import assumptions, fan_specs, sashes, screens, usual_words
from ventplan.house.fields import PLACES, PLAIN_NUMBERS
from ventplan.house.reading import Reading, key_words, validate
from ventplan.house.records import OUTDOORS, House, Scenario, Tonight
from ventplan.house.remarks import remark_on_house, remark_on_temperatures
from ventplan.house.scenarios import AS_IT_STANDS, build_scenarios
from ventplan.house.schema import FileSpec
from ventplan.house.units import QUANTITIES, SHOWN, describe, in_us_units
from ventplan.house.yaml_text import Source, parse_yaml, read_text

UNITS_DIFFER = [name for name in QUANTITIES if name in SHOWN and SHOWN[name]["si"][1] != SHOWN[name]["us"][1]]
"""Quantities that have another unit in US customary units."""
SECTIONS = ("rooms", "openings", "fans", "obstacles", "people at", "scenarios")


def read_house(path: str | Path) -> House:
    """Read a house file.

    Parameters
    ----------
    path
        A YAML file, as ``docs/house_file.md`` describes it.

    Raises
    ------
    InputError
        If the file cannot be read or has errors: all of them, each with its line.
    """
    return parse_house(read_text(path), str(path))


def parse_house(text: str, path: str = "") -> House:
    """Read a house from the text of a file; ``path`` is where it came from, for messages and for files beside it.

    Raises
    ------
    InputError
        If the text has errors: all of them, each with its line.
    """
    source = parse_yaml(text, path)
    if not isinstance(source.data, dict):
        found = "an empty file" if source.data is None else describe(source.data)
        first = source.errors or [InvalidValue("the file", found, "a map that begins with rooms:", "", path, 1, 1)]
        raise InputError(first)
    house = build_house(source, Path(path).parent if path else Path())
    if source.errors:
        raise InputError(source.in_order())
    return house


def build_house(source: Source, folder: Path) -> House:
    """The house of a parsed file; errors are noted in the source, and what has one is left out."""
    data: dict[str, Any] = source.data
    names = known_names(data)
    spec = top_level(source, data, names)
    reading = Reading(source, folder, spec, names)
    for section in ("rooms", "openings"):
        if section not in data and misspelt(data, section) is None:
            reading.report((), f"no {section}", f"{section}: a map of named {section}")
    if spec.north is None:
        reading.assumed.note("north is the top of the plan")
    if spec.show is None:
        reading.assumed.note("answers in SI units")
    reading.outdoors = build_outdoors(reading, spec.outdoors, base_weather(), note=True)
    build_rooms(reading)
    build_obstacles(reading)
    build_people(reading)
    build_openings(reading)
    build_fans(reading)
    usual_pitch_deg = float(assumptions()["roof pitch"])
    house = House(
        name=spec.name or (Path(source.file).stem.replace("_", " ") if source.file else "house"),
        rooms=reading.rooms,
        openings=reading.openings,
        fans=reading.fans,
        obstacles=reading.obstacles,
        scenarios={"": Scenario("", {}, frozenset(), (), reading.outdoors, {})},
        show="us" if spec.show == "us" else "si",
        north_deg=spec.north or 0.0,
        roof_pitch_deg=usual_pitch_deg if spec.roof_pitch is None else spec.roof_pitch,
        fabric_w_k=spec.fabric,
        path=source.file,
        people_at=reading.people_at,
        surfaces=surfaces_of(reading),
        tonight=tonight_of(reading),
    )
    if spec.roof_pitch is None and any(o.kind == "roof window" for o in reading.openings.values()):
        reading.assumed.note(f"roof pitch {usual_pitch_deg:g} deg")
    scenarios = build_scenarios(reading, house)
    totals = {s: len(data.get(s) or ()) if isinstance(data.get(s), dict) else 0 for s in SECTIONS}
    remark_on_temperatures(reading, reading.rooms, scenarios)
    house = replace(house, scenarios=scenarios, defaults=reading.assumed.sentences(totals))
    if not source.errors:
        remark_on_house(reading, house)
    if source.shows_us_units:
        remark_on_plain_numbers(reading)
        remarks, defaults = (tuple(map(in_us_units, texts)) for texts in (reading.remarks, house.defaults))
        return replace(house, remarks=remarks, defaults=defaults)
    return replace(house, remarks=tuple(reading.remarks))


def remark_on_plain_numbers(reading: Reading) -> None:
    """Remark once on the keys of a file in US units whose numbers have no unit, since they are read as SI."""
    keys = reading.names[PLAIN_NUMBERS]
    listing = "; ".join(f"{', '.join(sorted(keys[name]))} in {QUANTITIES[name].unit}" for name in keys if keys[name])
    if listing:
        reading.remark(f"numbers without a unit are read as SI, also with show: us: {listing}. Write their units")


def surfaces_of(reading: Reading) -> dict[str, float]:
    """What a fan can be stood on, by name, with its height [m]."""
    if reading.spec.surfaces is not None:
        return dict(reading.spec.surfaces)
    usual = {name: float(height) for name, height in assumptions()["surfaces"].items()}
    if reading.spec.fans:
        listing = " or ".join(f"a {name} {height:g} m high" for name, height in usual.items())
        reading.assumed.note(f"fans can stand on {listing} (say otherwise under surfaces)")
    return usual


def tonight_of(reading: Reading) -> Tonight:
    """What the file says of a night, with the defaults of what it leaves out."""
    spec, usual = reading.spec.tonight, assumptions()["tonight"]
    if spec.high is not None and spec.low is not None and spec.high < spec.low:
        found = f"{spec.high:g} °C, below the low of {spec.low:g} °C"
        reading.report(("tonight", "high"), found, "the higher of the two")
    if spec.bedtime is not None and spec.bedtime == spec.waking:
        reading.report(("tonight", "waking"), "the same time as bedtime", "a later time: waking: 7:00")
    for name in set(spec.rooms) & set(spec.keep_out):
        reading.report(("tonight", "keep out"), f"{name}, which is among the rooms that matter", "other rooms")
    if spec.noise is not None and spec.quiet is not None and spec.noise < spec.quiet:
        found = f"{spec.noise:g} dB, below the {spec.quiet:g} dB of quiet"
        reading.report(("tonight", "noise"), found, "at least as much: noise counts where people are awake")
    return Tonight(
        bedtime_h=float(usual["bedtime"]) if spec.bedtime is None else spec.bedtime,
        waking_h=float(usual["waking"]) if spec.waking is None else spec.waking,
        high_c=spec.high,
        low_c=spec.low,
        quiet_db=float(usual["quiet"]) if spec.quiet is None else spec.quiet,
        noise_db=spec.noise,
        rooms=tuple(dict.fromkeys(spec.rooms)),
        keep_out=tuple(dict.fromkeys(spec.keep_out)),
    )


def misspelt(data: dict[str, Any], section: str) -> str | None:
    """The unknown key that a missing section probably stands under; it is an error of its own, its names are not."""
    unknown = [k for k in data if k not in key_words(FileSpec)]
    close = difflib.get_close_matches(section, unknown, n=1, cutoff=0.7) if section not in data else []
    return close[0] if close else None


def known_names(data: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Which names may be referred to: those of the file (also where they have errors) and of the catalogues."""
    names: dict[str, dict[str, Any]] = {}
    for section in SECTIONS:
        value = data.get(section, data.get(misspelt(data, section) or ""))
        names[section] = value if isinstance(value, dict) else {}
    names["scenarios"] = {AS_IT_STANDS: None, **names["scenarios"]}
    names[PLACES] = {**dict.fromkeys(names["rooms"]), OUTDOORS: None}
    names["screens"], names["sashes"] = dict(screens()), dict(sashes())
    names["catalogue fans"] = dict(fan_specs())
    names["kind words"], names["sash words"], names["place words"] = (
        dict(usual_words()[key]) for key in ("kinds", "sashes", "places")
    )
    names[PLAIN_NUMBERS] = {name: {} for name in UNITS_DIFFER}
    for words in ("masses", "shelters", "spreads"):
        names[words] = dict(assumptions()[words])
    return names


def top_level(source: Source, data: dict[str, Any], names: dict[str, dict[str, Any]]) -> FileSpec:
    """Everything that is no map of named things; keys with errors are noted and left out."""
    before = len(source.errors)
    spec = validate(source, (), data, FileSpec, names)
    if spec is not None:
        return spec
    bad = {m.key.split(" > ")[0] for m in source.errors[before:]}
    kept = {k: v for k, v in data.items() if k in key_words(FileSpec) and k not in bad}
    return FileSpec.model_validate(kept, context=names)

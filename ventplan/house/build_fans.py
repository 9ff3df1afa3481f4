"""Records of fans from what the file, the catalogue and a walk down the jet say; each record lists what was estimated.

Figures that cannot fit one another are errors; the bounds are common practice, no source, and wide enough for any fan
of a household.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, field

from ventplan.errors import InputError
from ventplan.house.catalogue import assumptions, fan_specs
from ventplan.house.fans import JetLine, fan_from_line, jet_line, read_walk, walk_file
from ventplan.house.fields import nearest
from ventplan.house.reading import Reading, Refused, validate
from ventplan.house.records import Fan, FanSetting
from ventplan.house.schema import FanSpec, SettingSpec
from ventplan.house.units import rounded
from ventplan.house.yaml_text import Path_
from ventplan.physics.jet import flow_of_uniform_jet, thrust_of_uniform_jet

FASTEST_M_S, FASTEST_BY_THRUST_M_S = 30.0, 20.0
"""Mean speed through the blades above which a flow, and a flow worked out from a thrust, must be wrong [m/s]."""
LEAST_FLOW_M3_S, MOST_FLOW_M3_S = 0.01, 5.0
"""Flow through the blades of a portable fan [m3/s]."""
WRONG_RATIO, ODD_RATIO = 8.0, 3.0
"""Thrust over rho Q^2 / A, or its reciprocal, above which it is an error, and above which it is remarked on [-]."""
FIT_M = 0.02
"""How much wider than its opening a fan may be said to be [m]."""
GRAMS = "If a scale showed the thrust in grams, write gf, such as thrust: 150 gf"
STATED_ERROR = {"flow_m3_s": 0.10, "thrust_n": 0.10, "spread": 0.10}
ESTIMATED_ERROR = {"flow_m3_s": 0.20, "thrust_n": 0.25, "spread": 0.15}
"""Relative standard uncertainty of a stated and of an estimated figure [-]; common practice, no source."""


@dataclass
class Figures:
    """Flow, thrust, diameter and spread, SI, as they become known; how each was estimated, and its relative error."""

    known: dict[str, float]
    how: dict[str, str] = field(default_factory=dict)
    errors: dict[str, float] = field(default_factory=dict)

    def fill(self, key: str, value: float | None, how: str, error: float | None = None) -> None:
        """Set a figure that is not known yet."""
        if key in self.known or value is None:
            return
        self.known[key], self.how[key] = value, how
        if error is not None:
            self.errors[key] = error


def build_fans(reading: Reading) -> None:
    """Every fan of the file."""
    for name, data in reading.section("fans", "a name for each fan").items():
        spec = validate(reading.source, ("fans", name), data, FanSpec, reading.names)
        with suppress(Refused):
            if spec is not None:
                reading.fans[name] = make_fan(reading, name, spec)


def make_fan(reading: Reading, name: str, spec: FanSpec) -> Fan:
    """One fan's record."""
    path: Path_ = ("fans", name)
    like = fan_specs()[spec.like] if spec.like else FanSpec.model_validate({})
    usual = assumptions()["fan"]
    line = walked_line(reading, path, spec)
    figures = complete(reading, path, spec, like, line)
    known, how = figures.known, figures.how
    typical = f"typical of a {spec.like}"
    for word, key in (("power", "power_w"), ("pressure", "shutoff_pa"), ("sound", "sound_db")):
        if getattr(spec, word) is None and getattr(like, word) is not None:
            how[key] = typical
    power = like.power if spec.power is None else spec.power
    pressure = spec.pressure or like.pressure
    if pressure is None:
        pressure = float(usual["pressure"])
        how["shutoff_pa"] = "assumed for a fan with open blades"
    radius = known["diameter_m"] / 2.0
    heights = spec.heights or like.heights
    if heights is None:
        heights = (max(float(usual["lowest"]), radius), max(float(usual["highest"]), radius))
        how["heights"] = f"assumed: axis {heights[0]:g} m to {heights[1]:g} m above the floor"
    axis = axis_of(spec, like, heights)
    check_heights(reading, path, spec, heights, radius)
    tilts = like.tilts if spec.tilts is None else spec.tilts
    if tilts is None:
        tilts = (float(assumptions()["tilts"][0]), float(assumptions()["tilts"][1]))
        how["tilts"] = "not at all, assumed"
    elif spec.tilts is None:
        how["tilts"] = typical
    if spec.stays is not None:
        check_fixed(reading, path, spec, known["diameter_m"])
    settings = make_settings(
        reading, path, like.settings if spec.settings is None else spec.settings, known["flow_m3_s"]
    )
    own_kind = (str(spec.like), like.thrust) if like.thrust and line is None else None
    check_figures(reading, path, figures, power, own_kind)
    if how:
        reading.assumed.note(f"fan {name}: {grouped(how)}")
    return Fan(
        name=name,
        **known,
        power_w=power,
        shutoff_pa=pressure,
        sound_db=like.sound if spec.sound is None else spec.sound,
        settings=settings,
        lowest_m=heights[0],
        highest_m=heights[1],
        axis_m=axis,
        tilt_range_deg=tilts,
        stays_at=spec.stays or "",
        can_seal=spec.stays is not None or bool(like.seals if spec.seals is None else spec.seals),
        flow_error=error_of(spec.flow_error, figures, "flow_m3_s", like.flow_error),
        thrust_error=error_of(spec.thrust_error, figures, "thrust_n", like.thrust_error),
        spread_error=error_of(spec.spread_error, figures, "spread", like.spread_error),
        estimated=dict(how),
    )


def axis_of(spec: FanSpec, like: FanSpec, heights: tuple[float, float]) -> tuple[float, float]:
    """Lowest and highest height of a fan's axis above what it stands on [m], within the heights that the file gives."""
    if spec.axis is not None:
        return spec.axis
    if like.axis is None:
        return heights[0], heights[0]
    if spec.heights is None:
        return like.axis
    low = min(max(like.axis[0], heights[0]), heights[1])
    return low, min(max(like.axis[1], low), heights[1])


def check_heights(reading: Reading, path: Path_, spec: FanSpec, heights: tuple[float, float], radius_m: float) -> None:
    """Refuse an axis so low that the blades would touch the floor, and one above the highest of the heights."""
    for key, stated in (("heights", spec.heights), ("axis", spec.axis)):
        if stated is not None and stated[0] < radius_m - 0.06:
            found = f"{stated[0]:.2f} m for blades of {2.0 * radius_m:.2f} m"
            allowed = f"{radius_m:.2f} m or more: the blades end above what the fan stands on"
            reading.refuse((*path, key), found, allowed)
    if spec.axis is not None and spec.axis[0] > heights[1] + 1e-9:
        found = f"{spec.axis[0]:.2f} m above what it stands on"
        reading.refuse((*path, "axis"), found, f"up to the highest of heights, {heights[1]:.2f} m")


def check_fixed(reading: Reading, path: Path_, spec: FanSpec, diameter_m: float) -> None:
    """Refuse a fixed fan with keys of a portable one, and one that its opening is too small for."""
    for key in ("heights", "axis", "tilts", "seals"):
        if getattr(spec, key) is not None:
            found, hint = f"{key} of a fan that stays in {spec.stays}", "The opening says where a fixed fan is"
            reading.refuse((*path, key), found, f"{key} of a portable fan", f"{hint}: leave this key out")
    opening = reading.openings.get(str(spec.stays))
    if opening is not None and diameter_m > min(opening.width_m, opening.height_m) + FIT_M:
        size = f"{opening.width_m:.2f} m by {opening.height_m:.2f} m"
        found = f"a fan of {diameter_m:.2f} m in {opening.name} of {size}"
        reading.refuse((*path, "stays"), found, "an opening at least as wide and as high as the fan")


def grouped(how: Mapping[str, str]) -> str:
    """Estimates as one sentence, those with the same reason together."""
    reasons: dict[str, list[str]] = {}
    for key, reason in how.items():
        word = "pressure" if key == "shutoff_pa" else key.split("_")[0]
        reasons.setdefault(reason, []).append(word)
    return "; ".join(f"{', '.join(keys)} {reason}" for reason, keys in reasons.items())


def error_of(given: float | None, figures: Figures, key: str, typical: float | None) -> float:
    """Relative standard uncertainty: as given, from the walk, of the catalogue, or by whether it was estimated."""
    if given is not None:
        return given
    if key not in figures.how:
        return STATED_ERROR[key]
    return figures.errors.get(key, ESTIMATED_ERROR[key] if typical is None else typical)


def walked_line(reading: Reading, path: Path_, spec: FanSpec) -> JetLine | None:
    """The line through a walk down the jet, if the fan has one; refuses one that cannot be read or has no effect."""
    if spec.jet is None:
        return None
    here = (*path, "jet")
    try:
        line = jet_line(read_walk(walk_file(reading.folder, spec.jet)))
    except InputError as error:
        if any(one.allowed.startswith("a heading") for one in error.errors):
            # No line of a file that is not a walk is ever shown: its path may have come from somebody else.
            reading.refuse(here, f'"{spec.jet}", which is no walk', "a table with the columns distance and speed")
        for one in error.errors:
            where = f" (line {one.line})" if one.line else ""
            reading.report(here, f'"{spec.jet}"{where}: {one.found}', one.allowed, one.hint)
        raise Refused from None
    except ValueError as error:
        reading.refuse(here, f'"{spec.jet}"', str(error))
    if None not in (spec.flow, spec.thrust, spec.spread):
        found, hint = "a walk down the jet beside flow, thrust and spread", "It has no effect here"
        reading.refuse(here, found, "a walk instead of one of them", f"{hint}: leave one of the four out")
    return line


def complete(reading: Reading, path: Path_, spec: FanSpec, like: FanSpec, line: JetLine | None) -> Figures:
    """Flow, thrust, diameter and spread from whatever is known; refuses a fan of which too little is.

    Notes
    -----
    A uniform jet through the disc A of the blades has thrust = rho Q^2 / A. A catalogue fan's thrust goes with the
    square of a flow that the file states, its flow with the root of a thrust (fan laws).
    """
    usual = assumptions()["fan"]
    rho, typical = float(usual["air density"]), f"typical of a {spec.like}"
    stated = {"flow_m3_s": spec.flow, "thrust_n": spec.thrust, "diameter_m": spec.diameter, "spread": spec.spread}
    got = Figures({key: value for key, value in stated.items() if value is not None})
    got.fill("diameter_m", like.diameter, typical)
    if line is not None:
        fill_from_walk(got, line, like, rho)
    got.fill("spread", like.spread, typical)
    got.fill("spread", float(usual["spread"]), "medium, assumed")
    flow, thrust = got.known.get("flow_m3_s"), got.known.get("thrust_n")
    if like.flow and like.thrust:
        if flow is None and thrust is None:
            got.fill("flow_m3_s", like.flow, typical)
            got.fill("thrust_n", like.thrust, typical)
        elif flow is not None:
            by_square = like.thrust * (flow / like.flow) ** 2
            got.fill("thrust_n", by_square, f"that of a {spec.like}, by the square of the flow")
        elif thrust is not None:
            by_root = like.flow * math.sqrt(thrust / like.thrust)
            got.fill("flow_m3_s", by_root, f"that of a {spec.like}, by the root of the thrust")
        return got
    if flow is None and thrust is None:
        allowed = (
            "like: one of the catalogue fans; or flow and diameter; or thrust and diameter; or flow and thrust; "
            "or a jet walk"
        )
        hint = nearest(path[-1], fan_specs())
        reading.refuse(path, "a fan of unknown flow and thrust", allowed, hint, at_key=True)
    if flow is not None and thrust is not None:
        by_disc = math.sqrt(4.0 / math.pi * rho * flow**2 / thrust)
        got.fill("diameter_m", by_disc, "from flow and thrust: A = rho Q² / T")
    got.fill("diameter_m", float(usual["diameter"]), f"assumed {usual['diameter']:g} m")
    disc = math.pi / 4.0 * got.known["diameter_m"] ** 2
    if flow is not None:
        uniform = float(thrust_of_uniform_jet(flow_m3_s=flow, area_m2=disc, density=rho))
        got.fill("thrust_n", uniform, "from flow and diameter: T = rho Q² / A")
    elif thrust is not None:
        uniform = float(flow_of_uniform_jet(thrust_n=thrust, area_m2=disc, density=rho))
        got.fill("flow_m3_s", uniform, "from thrust and diameter: Q = sqrt(A T / rho)")
    return got


def fill_from_walk(got: Figures, line: JetLine, like: FanSpec, rho: float) -> None:
    """Fill in what the walk down the jet gives; what the file states itself is kept."""
    flow, thrust = got.known.get("flow_m3_s"), got.known.get("thrust_n")
    known_flow = like.flow if flow is None and thrust is None else flow
    guess = got.known.get("spread") or like.spread or float(assumptions()["fan"]["spread"])
    walked = fan_from_line(line, flow_m3_s=known_flow, thrust_n=thrust, spread=guess, density=rho)
    errors = (
        max(0.1, line.start_error),
        max(0.1, line.start_error, line.slope_error),
        max(0.07, line.slope_error),
    )
    for key, value, error in zip(("flow_m3_s", "thrust_n", "spread"), walked, errors, strict=True):
        got.fill(key, value, "from the walk down its jet", error)


def make_settings(
    reading: Reading, path: Path_, settings: dict[str, SettingSpec] | None, flow_m3_s: float
) -> tuple[FanSetting, ...]:
    """Speed settings, highest first; the highest is the fan's own figures."""
    result = []
    for name, spec in (settings or {}).items():
        here = (*path, "settings", name)
        speed = spec.flow / flow_m3_s if spec.speed is None and spec.flow is not None else spec.speed
        if speed is None:
            reading.report(here, "no speed", "a share of the highest speed such as 80 %, or a flow")
        elif not 0.05 <= speed <= 1.0 + 1e-9:
            allowed = f"{0.05 * flow_m3_s:.3g} to {flow_m3_s:.3g} m³/s, the fan's own flow"
            reading.report(here, f"{spec.flow:.3g} m³/s", allowed)
        else:
            result.append(FanSetting(name, min(speed, 1.0), spec.power, spec.sound))
    return tuple(sorted(result, key=lambda s: -s.speed))


def check_figures(
    reading: Reading, path: Path_, figures: Figures, power_w: float | None, like: tuple[str, float] | None
) -> None:
    """Refuse a fan whose figures cannot fit one another; remark on figures that are unlikely to.

    ``like`` is the name and the thrust [N] of the catalogue fan that the file says it is like. A uniform jet through
    the disc A of the blades has thrust = rho Q^2 / A: the thrust of most fans is 1 to 1.3 times that.
    """
    flow, thrust, diameter = (figures.known[key] for key in ("flow_m3_s", "thrust_n", "diameter_m"))
    disc = math.pi / 4.0 * diameter**2
    speed = flow / disc
    thrust_is_stated = "thrust_n" not in figures.how
    by_thrust = thrust_is_stated and "flow_m3_s" in figures.how
    if not by_thrust and not LEAST_FLOW_M3_S <= flow <= MOST_FLOW_M3_S:
        reading.refuse(
            (*path, "flow"),
            f"{flow:.3g} m³/s through the blades",
            f"from {LEAST_FLOW_M3_S:g} to {MOST_FLOW_M3_S:g} m³/s for a portable fan",
            "Check the unit of the flow; a point is a decimal point: 2.400 is 2.4, not 2400",
        )
    if by_thrust and like is not None and ratio_apart(thrust / like[1]) > WRONG_RATIO:
        allowed = f"about the thrust of a {like[0]}, {like[1]:.3g} N"
        reading.refuse((*path, "thrust"), f"{thrust:.3g} N", allowed, GRAMS)
    if by_thrust and speed > FASTEST_BY_THRUST_M_S:
        found = f"{thrust:.3g} N from blades of {diameter:.2f} m, a mean speed of {speed:.0f} m/s"
        reading.refuse((*path, "thrust"), found, f"up to {FASTEST_BY_THRUST_M_S:g} m/s through the blades", GRAMS)
    if speed > FASTEST_M_S:
        found = f"{flow:.3g} m³/s through {diameter:.2f} m, a mean speed of {speed:.0f} m/s"
        hint = "Check the unit of the flow, and the diameter"
        reading.refuse((*path, "flow"), found, f"up to {FASTEST_M_S:g} m/s through the blades", hint)
    density = float(assumptions()["fan"]["air density"])
    uniform = float(thrust_of_uniform_jet(flow_m3_s=flow, area_m2=disc, density=density))
    apart = ratio_apart(thrust / uniform)
    words = (
        f"{thrust:.3g} N, {rounded(thrust / uniform, 2, 3)} times the {uniform:.2g} N of "
        f"{flow:.3g} m³/s through blades of {diameter:.2f} m (rho Q² / A)"
    )
    if apart > WRONG_RATIO:
        allowed = f"from 1/{WRONG_RATIO:g} of that to {WRONG_RATIO:g} times"
        hint = GRAMS if thrust > uniform else "Check the units of flow and thrust"
        reading.refuse((*path, "thrust" if thrust_is_stated else "flow"), words, allowed, hint)
    in_the_jet = thrust * speed / 2.0
    if power_w is not None and in_the_jet > power_w:
        reading.refuse(
            (*path, "power"),
            f"{power_w:.3g} W, less than the {in_the_jet:.2g} W that its jet carries (half of thrust times speed)",
            "most household fans take 5 to 100 times that",
            "Check the units of power, flow and thrust",
        )
    if apart > ODD_RATIO:
        reading.remark(f"fan {path[-1]}: thrust {words}; most fans have 1 to 1.3 times: check flow, thrust, blades")


def ratio_apart(ratio: float) -> float:
    """A ratio or its reciprocal, whichever is above 1 [-]."""
    return max(ratio, 1.0 / ratio)

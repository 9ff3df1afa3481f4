"""Records of fans from what the file, the catalogue and a walk down the jet say; each record lists what was estimated.

Figures that cannot fit one another are errors; the bounds are common practice, no source, and wide enough for any fan
of a household.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from ventplan.errors import InputError
from ventplan.house.catalogue import assumptions, fan_specs
from ventplan.house.fans import JetLine, fan_from_line, jet_line, read_walk, walk_file
from ventplan.house.fields import nearest
from ventplan.house.reading import Reading, validate
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
"""Thrust over rho Q^2 / A, or the other way round, from where it is an error, and from where it is remarked on [-]."""
GRAMS = "If a scale showed the thrust in grams, write gf, such as thrust: 150 gf (1.5 N)"


@dataclass
class Figures:
    """Flow, thrust, diameter and spread on the way to being complete, and how each was estimated."""

    flow: float | None
    thrust: float | None
    diameter: float | None
    spread: float | None
    how: dict[str, str] = field(default_factory=dict)
    errors: dict[str, float] = field(default_factory=dict)


def build_fans(reading: Reading) -> None:
    """Every fan of the file."""
    for name, data in reading.section("fans", "a name for each fan").items():
        spec = validate(reading.source, ("fans", name), data, FanSpec, reading.names)
        fan = spec and make_fan(reading, name, spec)
        if fan:
            reading.fans[name] = fan


def make_fan(reading: Reading, name: str, spec: FanSpec) -> Fan | None:
    """One fan's record."""
    path: Path_ = ("fans", name)
    like = fan_specs()[spec.like] if spec.like else FanSpec.model_validate({})
    line = walked_line(reading, path, spec)
    if not jet_is_used(reading, path, spec) or (spec.jet is not None and line is None):
        return None
    figures = complete(spec, like, line)
    if figures is None:
        reading.source.report(
            path,
            "a fan of unknown flow and thrust",
            "like: one of the catalogue fans; or flow and diameter; or thrust and diameter; or flow and thrust; "
            "or a jet walk",
            nearest(name, fan_specs()),
            at_key=True,
        )
        return None
    usual = assumptions()["fan"]
    how = figures.how
    power = spec.power if spec.power is not None else like.power
    for word, field_name in (("power", "power_w"), ("pressure", "shutoff_pa"), ("sound", "sound_db")):
        if getattr(spec, word) is None and getattr(like, word) is not None:
            how[field_name] = f"typical of a {spec.like}"
    pressure = spec.pressure or like.pressure
    if pressure is None:
        pressure = float(usual["pressure"])
        how["shutoff_pa"] = "assumed for a fan with open blades"
    heights = spec.heights or like.heights
    if heights is None:
        radius = (figures.diameter or 0.4) / 2.0
        heights = (max(float(usual["lowest"]), radius), max(float(usual["highest"]), radius))
        how["heights"] = f"assumed: axis {heights[0]:g} m to {heights[1]:g} m above the floor"
    if heights[0] > heights[1]:
        reading.report((*path, "heights"), f"{heights[0]:.2f} m to {heights[1]:.2f} m", "the lowest height first")
        return None
    for key, lowest in (("heights", spec.heights and heights[0]), ("axis", spec.axis and spec.axis[0])):
        radius = (figures.diameter or 0.0) / 2.0
        if lowest is not None and lowest < radius - 0.06:
            found = f"{lowest:.2f} m for blades of {2.0 * radius:.2f} m"
            reading.report((*path, key), found, f"{radius:.2f} m or more: the blades end above what the fan stands on")
            return None
    axis = axis_of(spec, like, heights)
    if spec.axis is not None and axis[0] > heights[1] + 1e-9:
        found = f"{axis[0]:.2f} m above what it stands on"
        reading.report((*path, "axis"), found, f"up to the highest of heights, {heights[1]:.2f} m")
        return None
    tilts = spec.tilts if spec.tilts is not None else like.tilts
    if tilts is None:
        tilts = (float(assumptions()["tilts"][0]), float(assumptions()["tilts"][1]))
        how["tilts"] = "not at all, assumed"
    elif spec.tilts is None:
        how["tilts"] = f"typical of a {spec.like}"
    if spec.stays is not None and not fits_where_it_stays(reading, path, spec, figures.diameter or 0.0):
        return None
    flow, thrust, diameter = figures.flow or 0.0, figures.thrust or 0.0, figures.diameter or 0.0
    settings = make_settings(reading, path, spec.settings if spec.settings is not None else like.settings, flow)
    known = (str(spec.like), like.thrust) if like.thrust and line is None else None
    if not fan_is_plausible(
        reading, path, flow_m3_s=flow, thrust_n=thrust, diameter_m=diameter, density=float(usual["air density"]),
        power_w=power, how=how, like=known,
    ):  # fmt: skip
        return None
    if how:
        reading.assumed.note(f"fan {name}: {grouped(how)}")
    return Fan(
        name=name,
        flow_m3_s=flow,
        thrust_n=thrust,
        diameter_m=diameter,
        spread=figures.spread or 0.0,
        power_w=power,
        shutoff_pa=pressure,
        sound_db=spec.sound if spec.sound is not None else like.sound,
        settings=settings,
        lowest_m=heights[0],
        highest_m=heights[1],
        axis_m=axis,
        tilt_range_deg=tilts,
        stays_at=spec.stays or "",
        can_seal=spec.stays is not None or bool(spec.seals if spec.seals is not None else like.seals),
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


def fits_where_it_stays(reading: Reading, path: Path_, spec: FanSpec, diameter_m: float) -> bool:
    """True for a fixed fan that its opening is large enough for; notes what is wrong otherwise."""
    fits = True
    for key, value in (("heights", spec.heights), ("axis", spec.axis), ("tilts", spec.tilts), ("seals", spec.seals)):
        if value is not None:
            reading.report((*path, key), f"{key} of a fan that stays in {spec.stays}", f"{key} of a portable fan",
                           "The opening says where a fixed fan is: leave this key out")  # fmt: skip
            fits = False
    opening = reading.openings.get(str(spec.stays))
    if opening is not None and diameter_m > min(opening.width_m, opening.height_m) + 0.02:
        reading.report(
            (*path, "stays"),
            f"a fan of {diameter_m:.2f} m in {opening.name} of {opening.width_m:.2f} m by {opening.height_m:.2f} m",
            "an opening at least as wide and as high as the fan",
        )
        fits = False
    return fits


def grouped(how: dict[str, str]) -> str:
    """Estimates as one sentence, those with the same reason together."""
    words = {"shutoff_pa": "pressure"}
    reasons: dict[str, list[str]] = {}
    for key, reason in how.items():
        reasons.setdefault(reason, []).append(words.get(key, key.split("_")[0]))
    return "; ".join(f"{', '.join(keys)} {reason}" for reason, keys in reasons.items())


def error_of(given: float | None, figures: Figures, name: str, typical: float | None = None) -> float:
    """Relative standard uncertainty: as given, from the walk, of the catalogue, or by whether it was estimated."""
    if given is not None:
        return given
    if name in figures.errors:
        return figures.errors[name]
    if typical is not None and name in figures.how:
        return typical
    estimated = {"flow_m3_s": 0.20, "thrust_n": 0.25, "spread": 0.15}
    stated = {"flow_m3_s": 0.10, "thrust_n": 0.10, "spread": 0.10}
    return (estimated if name in figures.how else stated)[name]


def jet_is_used(reading: Reading, path: Path_, spec: FanSpec) -> bool:
    """True where a walk down the jet has something left to say; notes one that has not."""
    if spec.jet is None or None in (spec.flow, spec.thrust, spec.spread):
        return True
    found = "a walk down the jet beside flow, thrust and spread"
    reading.report(
        (*path, "jet"), found, "a walk instead of one of them", "It has no effect here: leave one of the four out"
    )
    return False


def walked_line(reading: Reading, path: Path_, spec: FanSpec) -> JetLine | None:
    """The line through a jet walk, if the fan has one."""
    if spec.jet is None:
        return None
    here = (*path, "jet")
    try:
        return jet_line(read_walk(walk_file(reading.folder, spec.jet)))
    except InputError as error:
        if any(m.allowed.startswith("a heading") for m in error.errors):
            # Not a line of a file that is no walk is ever shown: its path may have come from somebody else.
            reading.report(here, f'"{spec.jet}", which is no walk', "a table with the columns distance and speed")
            return None
        for one in error.errors:
            where = f" (line {one.line})" if one.line else ""
            reading.report(here, f'"{spec.jet}"{where}: {one.found}', one.allowed, one.hint)
    except ValueError as error:
        reading.report(here, f'"{spec.jet}"', str(error))
    return None


def complete(spec: FanSpec, like: FanSpec, line: JetLine | None) -> Figures | None:
    """Flow, thrust, diameter and spread from whatever is known.

    Notes
    -----
    A uniform jet through the disc A of the blades has thrust = rho Q^2 / A. With a catalogue fan, a flow of one's own
    scales its thrust by the square, and a thrust of one's own its flow by the root (fan laws).
    """
    usual = assumptions()["fan"]
    rho = float(usual["air density"])
    got = Figures(spec.flow, spec.thrust, spec.diameter, spec.spread)
    if got.diameter is None:
        got.diameter = like.diameter
        if got.diameter is not None:
            got.how["diameter_m"] = f"typical of a {spec.like}"
    if line is not None:
        from_walk(got, line, like, rho)
    if got.spread is None:
        got.spread = like.spread or float(usual["spread"])
        got.how["spread"] = f"typical of a {spec.like}" if like.spread else "medium, assumed"
    if like.flow and like.thrust:
        from_catalogue(got, like.flow, like.thrust, str(spec.like))
    if got.flow is None and got.thrust is None:
        return None
    if got.diameter is None:
        if got.flow is not None and got.thrust is not None:
            got.diameter = math.sqrt(4.0 / math.pi * rho * got.flow**2 / got.thrust)
            got.how["diameter_m"] = "from flow and thrust: A = rho Q² / T"
        else:
            got.diameter = float(usual["diameter"])
            got.how["diameter_m"] = f"assumed {got.diameter:g} m"
    disc = math.pi / 4.0 * got.diameter**2
    if got.thrust is None and got.flow is not None:
        got.thrust = float(thrust_of_uniform_jet(flow_m3_s=got.flow, area_m2=disc, density=rho))
        got.how["thrust_n"] = "from flow and diameter: T = rho Q² / A"
    elif got.flow is None and got.thrust is not None:
        got.flow = float(flow_of_uniform_jet(thrust_n=got.thrust, area_m2=disc, density=rho))
        got.how["flow_m3_s"] = "from thrust and diameter: Q = sqrt(A T / rho)"
    return got


def from_walk(got: Figures, line: JetLine, like: FanSpec, rho: float) -> None:
    """Fill in what the walk down the jet tells; what the file states itself is kept."""
    known_flow = got.flow if got.flow is not None or got.thrust is not None else like.flow
    guess = got.spread or like.spread or float(assumptions()["fan"]["spread"])
    flow, thrust, spread = fan_from_line(line, flow_m3_s=known_flow, thrust_n=got.thrust, spread=guess, density=rho)
    told = "from the walk down its jet"
    if got.thrust is None:
        got.how["thrust_n"] = told
        got.errors["thrust_n"] = max(0.1, line.start_error, line.slope_error)
    if got.flow is None:
        got.how["flow_m3_s"] = told
        got.errors["flow_m3_s"] = max(0.1, line.start_error)
    if got.spread is None:
        got.how["spread"] = told
        got.errors["spread"] = max(0.07, line.slope_error)
    got.flow = flow if got.flow is None else got.flow
    got.thrust = thrust if got.thrust is None else got.thrust
    got.spread = spread if got.spread is None else got.spread


def from_catalogue(got: Figures, flow: float, thrust: float, like: str) -> None:
    """Fill in flow and thrust from a catalogue fan, scaled to the one that the file states."""
    if got.flow is None and got.thrust is None:
        got.flow, got.thrust = flow, thrust
        got.how["flow_m3_s"] = got.how["thrust_n"] = f"typical of a {like}"
    elif got.thrust is None and got.flow is not None:
        got.thrust = thrust * (got.flow / flow) ** 2
        got.how["thrust_n"] = f"that of a {like}, by the square of the flow"
    elif got.flow is None and got.thrust is not None:
        got.flow = flow * math.sqrt(got.thrust / thrust)
        got.how["flow_m3_s"] = f"that of a {like}, by the root of the thrust"


def make_settings(
    reading: Reading, path: Path_, settings: dict[str, SettingSpec] | None, flow: float
) -> tuple[FanSetting, ...]:
    """Speed settings, highest first; the highest is the fan's own figures."""
    result = []
    for name, spec in (settings or {}).items():
        speed = spec.speed
        if speed is None and spec.flow is not None:
            speed = spec.flow / flow
            if not 0.05 <= speed <= 1.0 + 1e-9:
                reading.report((*path, "settings", name), f"{spec.flow:.3g} m³/s",
                           f"{0.05 * flow:.3g} to {flow:.3g} m³/s, the fan's own flow")  # fmt: skip
                continue
        if speed is None:
            reading.report(
                (*path, "settings", name), "no speed", "a share of the highest speed such as 80 %, or a flow"
            )
            continue
        result.append(FanSetting(name, min(speed, 1.0), spec.power, spec.sound))
    return tuple(sorted(result, key=lambda s: -s.speed))


def fan_is_plausible(
    reading: Reading,
    path: Path_,
    *,
    flow_m3_s: float,
    thrust_n: float,
    diameter_m: float,
    density: float,
    power_w: float | None,
    how: Mapping[str, str],
    like: tuple[str, float] | None,
) -> bool:
    """True for a fan whose figures fit one another; notes an error where they cannot, a remark where they hardly do.

    Parameters
    ----------
    reading
        The reading, which keeps errors and remarks.
    path
        The fan in the file.
    flow_m3_s, thrust_n, diameter_m
        Its figures [m3/s], [N], [m].
    density
        Density of the air [kg/m3].
    power_w
        Electrical input [W], or None.
    how
        Which of them were estimated, and how.
    like
        Name of the catalogue fan it is said to be like, and that fan's thrust [N]; None for a fan of its own.

    Notes
    -----
    A uniform jet through the disc A of the blades has thrust = rho Q^2 / A: the ratio to it is 1 to 1.3 for most fans.
    """
    disc = math.pi / 4.0 * diameter_m**2
    speed = flow_m3_s / disc
    by_thrust = "flow_m3_s" in how and "thrust_n" not in how
    if not by_thrust and not LEAST_FLOW_M3_S <= flow_m3_s <= MOST_FLOW_M3_S:
        reading.report(
            (*path, "flow"),
            f"{flow_m3_s:.3g} m³/s through the blades",
            f"from {LEAST_FLOW_M3_S:g} to {MOST_FLOW_M3_S:g} m³/s for a portable fan",
            "Check the unit of the flow; a point is a decimal point: 2.400 m3/h is 2.4 m3/h",
        )
        return False
    if by_thrust and like is not None and ratio_apart(thrust_n / like[1]) > WRONG_RATIO:
        reading.report(
            (*path, "thrust"), f"{thrust_n:.3g} N", f"about the thrust of a {like[0]}, {like[1]:.3g} N", GRAMS
        )
        return False
    if speed > (FASTEST_BY_THRUST_M_S if by_thrust else FASTEST_M_S):
        reading.report(
            (*path, "thrust" if by_thrust else "flow"),
            f"{thrust_n:.3g} N from blades of {diameter_m:.2f} m, a mean speed of {speed:.0f} m/s"
            if by_thrust
            else f"{flow_m3_s:.3g} m³/s through {diameter_m:.2f} m, a mean speed of {speed:.0f} m/s",
            f"up to {FASTEST_BY_THRUST_M_S if by_thrust else FASTEST_M_S:g} m/s through the blades",
            GRAMS if by_thrust else "Check the unit of the flow, and the diameter",
        )
        return False
    uniform = float(thrust_of_uniform_jet(flow_m3_s=flow_m3_s, area_m2=disc, density=density))
    apart = ratio_apart(thrust_n / uniform)
    words = (
        f"{thrust_n:.3g} N, {rounded(thrust_n / uniform, 2, 3)} times the {uniform:.2g} N of "
        f"{flow_m3_s:.3g} m³/s through blades of {diameter_m:.2f} m (rho Q² / A)"
    )
    if apart > WRONG_RATIO:
        allowed = f"from 1/{WRONG_RATIO:g} of that to {WRONG_RATIO:g} times"
        hint = GRAMS if thrust_n > uniform else "Check the units of flow and thrust"
        reading.report((*path, "thrust" if "thrust_n" not in how else "flow"), words, allowed, hint)
        return False
    in_the_jet = thrust_n * speed / 2.0
    if power_w is not None and in_the_jet > power_w:
        reading.report(
            (*path, "power"),
            f"{power_w:.3g} W, less than the {in_the_jet:.2g} W that its jet carries (half of thrust times speed)",
            "most household fans take 5 to 100 times that",
            "Check the units of power, flow and thrust",
        )
        return False
    if apart > ODD_RATIO:
        reading.remarks.append(
            f"fan {path[-1]}: thrust {words}; most fans have 1 to 1.3 times: check flow, thrust, blades"
        )
    return True


def ratio_apart(ratio: float) -> float:
    """A ratio or its reciprocal, whichever is above 1 [-]."""
    return max(ratio, 1.0 / ratio)

"""Houses small enough to solve by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import pytest

from ventplan.errors import NoAnswerError
from ventplan.house import House, Placement, parse_house, read_house
from ventplan.network import Flow, solve
from ventplan.network.weather import densities, wind_pressures
from ventplan.physics.buoyancy import GRAVITY_M_S2

SQUARE_FEET = 0.3048**2
CD = 0.62


def through_wind(west: list[float], inner: float | None, east: list[float]) -> House:
    """Two rooms side by side, square holes of these areas [m2] to the windy west and to the east, one in between."""

    def hole(name: str, joins: str, wall: str, at: float, area: float, pressure: float) -> str:
        side = math.sqrt(area)
        return (
            f"  {name}: {{kind: passage, joins: [{joins}], {wall}along: {at} m, size: [{side} m, {side} m], "
            f"discharge: {CD}" + (f", wind pressure: {pressure}" if "outdoors" in joins else "") + "}"
        )

    holes = [hole(f"west {i}", "left, outdoors", "wall: west, ", 0.1 + 3 * i, a, 0.6) for i, a in enumerate(west)]
    holes += [hole(f"east {i}", "right, outdoors", "wall: east, ", 0.1 + 3 * i, a, -0.4) for i, a in enumerate(east)]
    holes.append(hole("between", "left, right", "", 0.1, inner if inner is not None else 6.0, 0.0))
    return parse_house(
        "\n".join(
            [
                "outdoors: {temperature: 20 °C, wind: 4 m/s from west}",
                "indoors: {temperature: 20 °C}",
                "rooms:",
                "  left: {at: [0 m, 0 m], size: [4 m, 12 m], ceiling: 8 m}",
                "  right: {at: [4 m, 0 m], size: [4 m, 12 m], ceiling: 8 m}",
                "openings:",
                *holes,
            ]
        )
    )


def orifice_flow(house: House, area_m2: float) -> float:
    """What one hole of this area would pass under the whole wind pressure [m3/s]."""
    scenario = house.first_scenario()
    wind = wind_pressures(house, scenario)
    pressure = max(wind.values()) - min(wind.values())
    return CD * area_m2 * math.sqrt(2.0 * pressure / densities(house, scenario)["outdoors"])


def tight(house: House) -> House:
    """The house with nothing leaking where it is shut."""
    openings = {name: replace(opening, leak_m3_s=0.0) for name, opening in house.openings.items()}
    return replace(house, openings=openings)


def series(*areas_m2: float) -> float:
    return sum(area**-2 for area in areas_m2) ** -0.5


@pytest.fixture
def _between_large_spaces(monkeypatch: pytest.MonkeyPatch) -> None:
    """Holes by hand are between large spaces, and lose each stream behind them."""
    monkeypatch.setattr("ventplan.network.openings.confined_loss_ratio", lambda **_: 1.0)
    monkeypatch.setattr("ventplan.network.assemble.couplings_in_line", lambda *_: [])


@pytest.mark.usefixtures("_between_large_spaces")
@pytest.mark.parametrize("areas", [(1.0, 1.0, 1.0), (0.3, 1.5, 0.8), (2.0, 0.2, 2.0)])
def test_openings_in_series_add_up_by_the_inverse_squares_of_their_areas(areas: tuple[float, float, float]) -> None:
    house = through_wind([areas[0]], areas[1], [areas[2]])
    flow = solve(house)
    assert -flow.openings["west 0"].net_m3_s == pytest.approx(orifice_flow(house, series(*areas)), rel=2e-3)


@pytest.mark.usefixtures("_between_large_spaces")
def test_openings_in_parallel_add_up() -> None:
    house = through_wind([0.4, 0.7], 2.0, [0.5, 0.9])
    flow = solve(house)
    through = orifice_flow(house, series(1.1, 2.0, 1.4))
    assert flow.openings["between"].net_m3_s == pytest.approx(through, rel=2e-3)
    assert -flow.openings["west 0"].net_m3_s == pytest.approx(through * 0.4 / 1.1, rel=2e-3)
    assert flow.openings["east 1"].net_m3_s == pytest.approx(through * 0.9 / 1.4, rel=2e-3)


@pytest.mark.usefixtures("_between_large_spaces")
@pytest.mark.parametrize(("outlet_ft2", "works_like_ft2"), [(19.0, 17.1), (21.0, 18.5)])
def test_the_worked_sizing_example_comes_out_of_the_whole_solver(outlet_ft2: float, works_like_ft2: float) -> None:
    # MIL-HDBK-1011/2, Cooling buildings by natural ventilation, 1990, worked sizing example: outlets of 19 and 21 ft2
    # (verified) behind an inlet of 39.15 ft2 (derived from both).
    house = through_wind([39.15 * SQUARE_FEET], 35.0, [outlet_ft2 * SQUARE_FEET])
    found = solve(house).openings["east 0"].net_m3_s
    # The passage between the two rooms is wide, not infinite: 35 m2 against 1.6 m2 take a thousandth.
    assert found == pytest.approx(orifice_flow(house, works_like_ft2 * SQUARE_FEET), rel=0.005)


def test_isolated_rooms_are_named_and_the_rest_is_solved() -> None:
    house = tight(through_wind([1.0, 1.0], 1.0, [1.0]))
    shut = {**house.first_scenario().shares, "between": 0.0, "east 0": 0.0}
    flow = solve(house, replace(house.first_scenario(), shares=shut))
    assert flow.isolated_rooms == ("right",)
    assert set(flow.rooms) == {"left"}


def test_a_house_without_a_path_to_outdoors_is_an_error() -> None:
    house = tight(through_wind([1.0], 1.0, [1.0]))
    shut = dict.fromkeys(house.openings, 0.0)
    with pytest.raises(NoAnswerError, match="open a window or door"):
        solve(house, replace(house.first_scenario(), shares=shut))


def test_the_stack_of_two_storeys_and_its_neutral_level_agree_with_a_hand_calculation() -> None:
    house = parse_house("""
outdoors: {temperature: 5 °C, wind: calm}
indoors: {temperature: 25 °C}
rooms:
  ground: {at: [0 m, 0 m], size: [4 m, 4 m], ceiling: 2.6 m}
  upper:  {at: [0 m, 0 m], size: [4 m, 4 m], ceiling: 2.6 m, floor: 2.8 m}
openings:
  low:    {kind: passage, joins: [ground, outdoors], wall: west, along: 1 m, size: [1 m, 10 cm], sill: 0.45 m}
  hatch:  {kind: hatch, joins: [ground, upper], at: [1 m, 1 m], size: [1 m, 0.5 m], sash: none}
  high:   {kind: passage, joins: [upper, outdoors], wall: east, along: 1 m, size: [1 m, 10 cm], sill: 1.65 m}
""")
    flow = solve(house)
    density = densities(house, house.first_scenario())
    outside, inside = density["outdoors"], density["ground"]
    height = (2.8 + 1.70) - 0.50
    pull = GRAVITY_M_S2 * (outside - inside) * height
    # Each hole: dp = m^2 / (2 rho (Cd A)^2), rho of the air that passes it; the three take up the whole pull.
    losses = [1.0 / (2.0 * rho * (0.62 * area) ** 2) for rho, area in ((outside, 0.1), (inside, 0.5), (inside, 0.1))]
    mass = math.sqrt(pull / sum(losses))
    assert -flow.openings["low"].net_kg_s == pytest.approx(mass, rel=5e-3)
    assert flow.openings["high"].net_kg_s == pytest.approx(mass, rel=5e-3)
    # The pressure of the ground floor equals that outdoors where the low hole's share of the pull is used up.
    level = 0.50 + losses[0] * mass**2 / (GRAVITY_M_S2 * (outside - inside))
    ground = -flow.rooms["ground"].pressure_pa / (GRAVITY_M_S2 * (outside - inside))
    assert ground == pytest.approx(level, abs=0.02)
    assert flow.neutral_level_m is not None
    assert level - 0.05 <= flow.neutral_level_m <= level + losses[1] * mass**2 / (GRAVITY_M_S2 * (outside - inside))


ROOMS_IN_A_ROW = """
outdoors: {temperature: 20 °C, wind: calm}
indoors: {temperature: 20 °C}
rooms:
  left:  {at: [0 m, 0 m], size: [4 m, 4 m]}
  right: {at: [4 m, 0 m], size: [4 m, 4 m]}
openings:
  door:   {kind: passage, joins: [left, right], along: 1.6 m, size: [0.8 m, 2 m]}
  west:   {kind: passage, joins: [left, outdoors], wall: west, along: 1.5 m, size: [1 m, 1 m], sill: 0.6 m}
  east:   {kind: passage, joins: [right, outdoors], wall: east, along: 1.5 m, size: [1 m, 1 m], sill: 0.6 m}
  corner: {kind: passage, joins: [right, outdoors], wall: east, along: 2.8 m, size: [1 m, 1 m], sill: 0.6 m}
fans:
  fan: {like: pedestal 16 in}
"""


def blown(house: House, *placements: Placement, shut: tuple[str, ...] = ()) -> Flow:
    shares = {name: 0.0 if name in shut else share for name, share in house.first_scenario().shares.items()}
    return solve(house, replace(house.first_scenario(), shares=shares, placements=placements))


def test_a_jet_drives_the_same_from_either_side_of_a_door() -> None:
    house = tight(parse_house(ROOMS_IN_A_ROW))
    there = blown(house, Placement("fan", "door", "left", 1.2, height_m=1.0), shut=("corner",))
    back = blown(house, Placement("fan", "door", "right", 1.2, height_m=1.0), shut=("corner",))
    assert there.openings["door"].net_m3_s > 0.2
    assert back.openings["door"].net_m3_s == pytest.approx(-there.openings["door"].net_m3_s, rel=1e-6)
    assert back.fans[0].driven_m3_s == pytest.approx(there.fans[0].driven_m3_s, rel=1e-6)


def test_a_jet_drives_more_if_the_next_opening_is_in_line() -> None:
    house = parse_house(ROOMS_IN_A_ROW)
    placed = Placement("fan", "door", "left", 1.0, height_m=1.1)
    in_line = blown(house, placed, shut=("corner",))
    aside = blown(house, placed, shut=("east",))
    assert in_line.in_line == ("east",)
    assert in_line.fans[0].driven_m3_s > 1.02 * aside.fans[0].driven_m3_s


def test_a_weak_jet_against_the_wind_has_one_answer_too() -> None:
    # Against the wind the fan in the kitchen leaves a jet of 2 mN, which the door that it came by hardly lets through.
    house = read_house(Path(__file__).parents[3] / "house_examples" / "two_storey.yaml")
    stand_fan = replace(house.fans["stand fan"], thrust_n=2.2, spread=0.17)
    house = replace(house, fans={**house.fans, "stand fan": stand_fan})
    state = house.first_scenario()
    outward = ("front door", "garage gate", "terrace door", "living window", "kitchen window", "bath window", "chimney")
    upstairs = ("main bedroom window", "small bedroom window")
    shares = {**state.shares, **{name: house.openings[name].full_share for name in (*outward, *upstairs)}}
    shares["bath window"] = 0.2
    windy = replace(state.outdoors, wind=replace(state.outdoors.wind, speed_m_s=6.0, from_deg=225.0))
    fans = (
        Placement("circulator", "bath window", "upper bath", 0.8004, height_m=1.3, tilt_deg=5.7078),
        Placement("stand fan", "kitchen door", "kitchen", 1.069, height_m=1.0),
    )
    assert solve(house, replace(state, shares=shares, outdoors=windy, placements=fans)).imbalance_kg_s < 1e-9


def test_a_jet_also_reaches_the_window_beside_its_target() -> None:
    house = parse_house(ROOMS_IN_A_ROW)
    placed = Placement("fan", "east", "right", 2.5, height_m=1.1, aside_m=0.4)
    both = blown(house, placed)
    target, beside = both.openings["east"], both.openings["corner"]
    # Were it only a hole, air would come in at it under the low pressure of the room, as at the west window.
    plain = blown(house, replace(placed, aside_m=-0.4))
    assert beside.reading_m_s is None
    assert target.net_m3_s > 0.0
    assert beside.net_m3_s > plain.openings["corner"].net_m3_s


def test_two_equal_fans_side_by_side_drive_more_than_one_and_less_than_two() -> None:
    house = parse_house(ROOMS_IN_A_ROW)
    house = replace(house, fans={**house.fans, "other": replace(house.fans["fan"], name="other")})
    one = Placement("fan", "door", "left", 1.2, height_m=1.0, aside_m=-0.2)
    two = replace(one, fan="other", aside_m=0.2)
    alone, together = (blown(house, *placed, shut=("corner",)) for placed in ((one,), (one, two)))
    assert alone.fans[0].driven_m3_s < together.fans[0].driven_m3_s < 2.0 * alone.fans[0].driven_m3_s


@pytest.mark.usefixtures("_between_large_spaces")
def test_a_sealed_fan_works_where_its_curve_meets_the_house() -> None:
    house = parse_house(
        ROOMS_IN_A_ROW.replace("like: pedestal 16 in", "flow: 0.3 m3/s, diameter: 40 cm, pressure: 20 Pa, seals: yes")
    )
    house = tight(house)
    flow = blown(house, Placement("fan", "east", "right", 0.0, sealed=True), shut=("corner",))
    through = flow.fans[0].blades_m3_s
    share = through / 0.3
    curve = 20.0 * (1.0 - 0.5 * share - 0.5 * share**2)
    density = densities(house, house.first_scenario())["right"]
    resistance = density / 2.0 * (through / 0.62) ** 2 * (1.0 / 1.0**2 + 1.0 / 1.6**2)
    assert curve == pytest.approx(resistance, rel=5e-3)
    assert flow.rooms["right"].pressure_pa == pytest.approx(-curve, rel=5e-3)
    assert flow.fans[0].sealed

"""The command line with weather: what ``flow`` says of it, and ``place`` over many kinds of it."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.command_line import EXAMPLES, run

HOUSE = """
outdoors: {temperature: 20, wind: calm, terrain: open}
indoors: {temperature: 20}
rooms: {room: {at: [0, 0], size: [6, 4], ceiling: 2.5}}
openings:
  west window: {kind: window, joins: [room, outdoors], wall: west, size: [1.2, 1.2], sash: side hinged}
  east window: {kind: window, joins: [room, outdoors], wall: east, size: [1.2, 1.2], sash: side hinged}
fans:
  fan: {flow: 0.3, thrust: 2.5 N, diameter: 0.4, spread: 0.14}
"""


@pytest.fixture
def house(tmp_path: Path) -> Path:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE)
    (tmp_path / "rose.csv").write_text("wind from,wind speed [m/s],share [%]\nwest,1.5,70\neast,1.5,30\n")
    (tmp_path / "hours.csv").write_text(
        "time,temperature [°C],wind speed [m/s],wind from [deg]\n"
        "2030-07-01 12:00,20,1.5,270\n2030-07-01 13:00,20,1.5,270\n2030-07-01 14:00,20,1.5,90\n"
    )
    return path


def test_flow_says_what_wind_arrives_what_drives_each_opening_and_where_the_neutral_level_is() -> None:
    file = EXAMPLES / "two_storey.yaml"
    windy = run("flow", file, "--scenario", "night", "--wind", "4 m/s from west", "--details").out
    assert "(2.5 m/s at the eaves)" in " ".join(windy.split())
    assert "What drives each opening" in windy
    still = run("flow", file, "--scenario", "stack alone", "--details").out
    assert "at the eaves" not in still
    assert "What drives each opening" not in still
    assert "Neutral pressure level" in still


def test_indoor_temperature_of_the_command_line_replaces_that_of_every_room() -> None:
    state = run("flow", EXAMPLES / "two_storey.yaml", "--indoor", "19C", "--json").result["state"]
    assert set(state["temperatures_c"].values()) == {19.0}


def test_place_over_a_wind_rose_tells_the_best_plan_and_where_another_is_better(house: Path) -> None:
    out = run("place", house, "--room", "room", "--wind-rose", house.parent / "rose.csv").out
    plain = " ".join(out.split())
    assert "within 10 % of the best for 70 % of the time" in plain
    assert "from east window, facing it, blowing out" in plain
    assert "Better than plan 1 by more than 10 %, by weather - B: Stand" in plain
    assert "from west window, facing it, blowing out" in plain
    assert max(map(len, out.splitlines())) <= 80


def test_place_over_hours_as_json_has_plans_and_groups(house: Path) -> None:
    out = run("place", house, "--room", "room", "--over", house.parent / "hours.csv", "--every-hour", "--json")
    answer = out.result["over_weather"]
    assert answer["conditions"] == 3
    assert [round(group["condition"]["weight"], 3) for group in answer["groups"]] == [0.75, 0.25]
    assert answer["plans"][0]["placements"][0]["opening"] == "east window"
    assert answer["hour_by_hour"]


def test_hours_and_a_rose_together_are_refused(house: Path) -> None:
    rose, hours = house.parent / "rose.csv", house.parent / "hours.csv"
    answer = run("place", house, "--room", "room", "--over", hours, "--wind-rose", rose)
    assert answer.code == 2
    assert "not both" in answer.err


@pytest.mark.parametrize(
    "option",
    [("--sure",), ("--least", "power"), ("--weather", "hours.csv"), ("--cool", "room"), ("--fans-at-once", "2")],
)
def test_what_cannot_be_asked_over_weather_is_refused_and_not_passed_over(house: Path, option: tuple[str, ...]) -> None:
    answer = run("place", house, "--room", "room", "--wind-rose", house.parent / "rose.csv", *option)
    assert answer.code != 0
    assert option[0] in answer.err or "the question is for 2" in answer.err


def test_groups_and_every_hour_without_weather_are_refused(house: Path) -> None:
    for option in (("--groups", "3"), ("--every-hour",)):
        answer = run("place", house, "--room", "room", *option)
        assert answer.code == 2
        assert "--over or --wind-rose" in answer.err


def test_place_over_weather_says_what_openings_do_alone(house: Path) -> None:
    out = run("place", house, "--room", "room", "--wind-rose", house.parent / "rose.csv").out
    assert "Windows and doors alone (" in out
    assert "windows alone" in out.split("By weather")[1]


def test_single_window_between_cold_and_warm_air_has_no_net_flow(tmp_path: Path) -> None:
    # Warm air out takes more room than the cold air that comes in, and weighs the same.
    path = tmp_path / "one.yaml"
    path.write_text(
        """
outdoors: {temperature: -20, wind: calm, terrain: open}
indoors: {temperature: 22}
rooms: {room: {at: [0, 0], size: [5, 4], ceiling: 2.5}}
openings: {window: {kind: window, joins: [room, outdoors], wall: south, size: [1, 1], sash: none, open: yes}}
"""
    )
    answer = run("flow", path, "--json").result["flow"]["openings"]["window"]
    assert answer["net_m3_s"] > 0.02
    assert abs(answer["net_kg_s"]) < 1e-9
    row = next(line for line in run("flow", path).out.splitlines() if line.startswith("window "))
    assert row.split()[:4] == ["window", "no", "net", "flow"]
    there, back = row.split()[4:6]
    assert there == back != "0"


def test_assumed_weather_is_noted_over_weather(house: Path) -> None:
    file = house.parent / "half.csv"
    file.write_text("time,temperature,gusts\n12:00,20,5\n13:00,21,6\n")
    out = " ".join(run("place", house, "--room", "room", "--over", file).out.split())
    assert "calm (wind speed)" in out
    assert "not known: gusts" in out


def test_still_house_with_everything_shut_has_a_word_and_no_empty_table(house: Path) -> None:
    out = run("flow", house).out
    assert "hardly any outdoor air enters" in out
    assert "Every opening is shut" in out
    assert "air goes" not in out


def test_storm_at_minus_forty_on_a_shut_house_has_an_answer(house: Path) -> None:
    answer = run("flow", house, "--wind", "40 m/s from west", "--outdoor", "-40C", "--json")
    flow = answer.result["flow"]
    assert flow["openings"]["west window"]["net_kg_s"] < 0.0 < flow["openings"]["east window"]["net_kg_s"]
    assert flow["imbalance_kg_s"] < 1e-9

"""Makes the readings of the example campaign: invented numbers, from a truth that the readings never show,
with noise.

Run it in its folder: ``python make_readings.py``. The seed is fixed, so that the same readings come out.
"""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np

from ventplan.house import House, read_house
from ventplan.measure.opening import positions
from ventplan.network import solve

SEED = 1
HERE = Path(__file__).parent
DENSITY = 1.2

TRUTH = {
    "thrust_n": 2.8,
    "flow_m3_s": 0.42,
    "spread": 0.135,
    "medium speed": 0.83,
    "start-up_m_s": 0.28,
    "intercept_m_s": 0.16,
    "slope": 0.95,
    "bedroom window discharge": 0.55,
    "living window discharge": 0.60,
    "wire": 1.15,
}
"""What the readings come from. The vane shows (true - intercept) / slope, and nothing below start-up."""


def shown(speed: float, noise: float, generator: np.random.Generator) -> float:
    """What the vane shows of a true speed."""
    true = speed * math.exp(noise * generator.standard_normal())
    return round(max((true - TRUTH["intercept_m_s"]) / TRUTH["slope"], 0.0), 2) if true > TRUTH["start-up_m_s"] else 0.0


def carried(generator: np.random.Generator) -> str:
    """The vane carried through still air over 10 m, with decimal commas and a semicolon between cells."""
    lines = [
        "# vane on a stick, walked along a 10 m tape in a still hall",
        "indicated [m/s]; distance [m]; time [s]; note",
    ]
    for seconds in (40.0, 29.0, 20.0, 14.0, 10.0, 7.7, 6.2, 5.0, 4.0, 3.3):
        true = 10.0 / seconds
        taken = seconds * math.exp(0.004 * generator.standard_normal())
        note = "stood still" if shown(true, 0.0, generator) == 0.0 else ""
        lines.append(f"{shown(true, 0.015, generator):.2f};10;{taken:.1f};{note}".replace(".", ","))
    return "\n".join(lines) + "\n"


def box(generator: np.random.Generator) -> str:
    """A traverse of the exit of a box, 50 x 50 cm, around the fan."""
    lines = ["across [cm],up [cm],speed [m/s]"]
    loss = DENSITY / 2.0 * (TRUTH["flow_m3_s"] / (0.62 * 0.25)) ** 2
    flow = TRUTH["flow_m3_s"] * (1.0 - 0.6 * loss / 30.0)
    for x, y in positions(width_m=0.5, height_m=0.5, spacing_m=0.1):
        shape = 1.0 + 0.12 * (1.0 - 6.0 * ((x - 0.25) ** 2 + (y - 0.25) ** 2) / 0.25)
        lines.append(f"{x * 100:.1f},{y * 100:.1f},{shown(flow / 0.25 * shape, 0.04, generator):.2f}")
    return "\n".join(lines) + "\n"


def scale(generator: np.random.Generator) -> str:
    """The fan hung from a lever 60 cm from the pivot, which presses on a kitchen scale 30 cm from it."""
    lines = ["setting,direction,fan,reading [g],note"]
    drift = 0.0
    for setting, speed in (("", 1.0), ("medium", TRUTH["medium speed"])):
        for direction, sign in (("forward", 1.0), ("reverse", -1.0)):
            for fan in ("off", "on", "off", "on", "off", "on", "off"):
                force = TRUTH["thrust_n"] * speed**2 / 9.80665e-3 * 2.0 if fan == "on" else 0.0
                value = 850.0 + drift + sign * force + (6.0 if fan == "on" else 0.0) + 2.0 * generator.standard_normal()
                lines.append(f"{setting},{direction},{fan},{value:.0f},{'cable taped down' if drift == 0.0 else ''}")
                drift += 0.4
    return "\n".join(lines) + "\n"


def walk(generator: np.random.Generator) -> str:
    """Centre-line speeds, and a profile across at 2 m; the core reaches 0.8 m."""
    momentum = math.sqrt(2.0 * TRUTH["thrust_n"] / (math.pi * DENSITY))
    start = TRUTH["flow_m3_s"] / math.sqrt(2.0 * math.pi * TRUTH["thrust_n"] / DENSITY)
    lines = ["distance [m],offset [cm],speed [m/s],note"]
    for s in (0.2, 0.4, 0.6, 0.9, 1.2, 1.5, 1.8, 2.2, 2.6, 3.0, 3.5, 4.0):
        speed = momentum / (start + TRUTH["spread"] * max(s, 0.8))
        lines.append(f"{s},,{shown(speed, 0.025, generator):.2f},")
    width = start + TRUTH["spread"] * 2.0
    for offset in (-75, -60, -45, -30, -15, 0, 15, 30, 45, 60, 75):
        speed = momentum / width * math.exp(-(((offset - 4.0) / 100.0 / width) ** 2))
        lines.append(f"2.0,{offset},{shown(speed, 0.03, generator):.2f},across")
    return "\n".join(lines) + "\n"


TYPED = """what,setting,value
power,,62 W
power,medium,43 W
sound,,55 dB
sound,medium,50 dB
"""


def true_house() -> House:
    """The cottage as it really is."""
    house = read_house(HERE / "cottage.yaml")
    fan = replace(
        house.fans["circulator"],
        thrust_n=TRUTH["thrust_n"],
        flow_m3_s=TRUTH["flow_m3_s"],
        spread=TRUTH["spread"],
    )
    openings = dict(house.openings)
    for name in ("bedroom window", "living window"):
        openings[name] = replace(openings[name], discharge=TRUTH[f"{name} discharge"])
    for name, opening in openings.items():
        if opening.screen is not None:
            threads = (1.0 - math.sqrt(opening.screen.open_area_ratio)) / opening.screen.wire_m
            wire = opening.screen.wire_m * TRUTH["wire"]
            dusty = replace(opening.screen, wire_m=wire, open_area_ratio=(1.0 - threads * wire) ** 2)
            openings[name] = replace(opening, screen=dusty)
    return replace(house, fans={"circulator": fan}, openings=openings)


def house_readings(generator: np.random.Generator) -> str:
    """One place in the stream of every opening that the air is drawn through, in six set-ups."""
    house = true_house()
    lines = ["scenario,setback,opening,speed [m/s],takes"]
    for scenario in ("living to bedroom", "living to bedroom, screened", "both bedroom and study"):
        for setback in (1.5, 2.5):
            state = house.scenarios[scenario]
            placed = tuple(replace(placement, setback_m=setback) for placement in state.placements)
            flow = solve(house, replace(state, placements=placed))
            for name, opening in flow.openings.items():
                if opening.reading_m_s is not None and opening.free_area_m2 > 0.0 and opening.reading_m_s > 0.2:
                    value = shown(opening.reading_m_s, 0.06, generator)
                    lines.append(f'"{scenario}",{setback} m,{name},{value:.2f},stream')
    return "\n".join(lines) + "\n"


def log(generator: np.random.Generator) -> str:
    """Four minutes in the bedroom window, a reading a second, from the moment the fan starts in its place: gusts."""
    house = true_house()
    state = house.scenarios["living to bedroom"]
    flow = solve(house, replace(state, placements=tuple(replace(p, setback_m=2.1) for p in state.placements)))
    middle = flow.openings["bedroom window"].reading_m_s
    assert middle is not None
    gust, lines = 0.0, ["time [s],speed [m/s]"]
    for second in range(240):
        gust = 0.8 * gust + 0.6 * generator.standard_normal()
        lines.append(
            f"{second},{shown(middle * (1.0 + 0.1 * gust) * (1.0 - math.exp(-second / 8.0)), 0.0, generator):.2f}"
        )
    return "\n".join(lines) + "\n"


def main() -> None:
    """Write every file of readings."""
    generator = np.random.default_rng(SEED)
    for name, text in (
        ("vane.csv", carried(generator)),
        ("box.csv", box(generator)),
        ("scale.csv", scale(generator)),
        ("jet.csv", walk(generator)),
        ("typed.csv", TYPED),
        ("openings.csv", house_readings(generator)),
        ("log.csv", log(generator)),
    ):
        (HERE / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()

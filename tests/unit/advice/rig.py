"""An invented room with two screened windows and a fan, quick to solve, and truths that differ from what is assumed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ventplan.advice.uncertainty import Uncertainties, causes_of, default_uncertainties, perturbed, shifts_of, with_loss
from ventplan.house import House, Scenario, parse_house

TEXT = """
name: rig
outdoors: {temperature: 18 °C, wind: {speed: 0 m/s, from: 0 deg}}
indoors: {temperature: 24 °C}
rooms:
  room: {at: [0 m, 0 m], size: [6 m, 4 m], ceiling: 2.5 m, floor: 0 m}
openings:
  near: {kind: window, joins: [room, outdoors], wall: west, along: 1.4 m, size: [1.2 m, 1.2 m], sash: pocket,
         screen: fine 18x16}
  far:  {kind: window, joins: [room, outdoors], wall: east, along: 1.4 m, size: [1.2 m, 1.2 m], sash: pocket,
         screen: fine 18x16}
fans:
  fan: {like: box 20 in}
  small: {like: circulator 9 in}
scenarios:
  at 1 m: {open: [near, far], fans: [{fan: fan, blows out: near, setback: 1 m}]}
  at 1.1 m: {open: [near, far], fans: [{fan: fan, blows out: near, setback: 1.1 m}]}
  small fan: {open: [near, far], fans: [{fan: small, blows out: near, setback: 1 m}]}
  windy: {based on: at 1 m, outdoors: {wind: {speed: 4 m/s, from: 250 deg}}}
"""


def rig() -> House:
    """The rig."""
    return parse_house(TEXT)


def sample_house(
    house: House, scenario: Scenario, rng: np.random.Generator, uncertainties: Uncertainties | None = None
) -> tuple[House, Scenario]:
    """A house and state as the intervals assume them: each cause drawn by itself (JCGM 101:2008, 6.4.7)."""
    causes = causes_of(house, (scenario,), uncertainties)
    return perturbed(house, scenario, shifts_of(causes, rng.standard_normal(len(causes))))


def expected_truth(house: House, scenario: Scenario, rng: np.random.Generator) -> tuple[House, Scenario]:
    """A truth as the intervals assume it."""
    return sample_house(house, scenario, rng)


def calm_blades(house: House, scenario: Scenario, rng: np.random.Generator) -> tuple[House, Scenario]:
    """Every fan's jet drives a fifth less than the model says, as with calm outflow in flow simulations."""
    variant, state = sample_house(house, scenario, rng, replace(default_uncertainties(), jet_shared=0.0))
    fans = {name: replace(fan, jet_gain=0.8 * fan.jet_gain) for name, fan in variant.fans.items()}
    return replace(variant, fans=fans), state


def rare_surprises(house: House, scenario: Scenario, rng: np.random.Generator) -> tuple[House, Scenario]:
    """Mostly half as much off as assumed, one time in eight twice as much (a heavy tail)."""
    factor = 2.0 if rng.random() < 0.125 else 0.5
    wide = {name: factor * value for name, value in vars(default_uncertainties()).items()}
    fans = {
        name: replace(
            fan, **{key: factor * getattr(fan, key) for key in ("flow_error", "thrust_error", "spread_error")}
        )
        for name, fan in house.fans.items()
    }
    varied, state = sample_house(replace(house, fans=fans), scenario, rng, type(default_uncertainties())(**wide))
    return varied, state


def thick_screens(house: House, scenario: Scenario, rng: np.random.Generator) -> tuple[House, Scenario]:
    """Every screen has half as much loss again as its weave says: dust, and air that meets it at an angle."""
    variant, state = sample_house(house, scenario, rng, replace(default_uncertainties(), screen_loss=0.0))
    openings = {
        name: replace(opening, screen=with_loss(opening.screen, factor=1.5)) if opening.screen else opening
        for name, opening in variant.openings.items()
    }
    return replace(variant, openings=openings), state


def level_errors(house: House, scenario: Scenario, rng: np.random.Generator) -> tuple[House, Scenario]:
    """Every cause off by its limits at the most, all values between as likely (rectangular, same variance)."""
    causes = causes_of(house, (scenario,))
    return perturbed(house, scenario, shifts_of(causes, rng.uniform(-(3.0**0.5), 3.0**0.5, len(causes))))


TRUTHS = (expected_truth, calm_blades, rare_surprises, thick_screens, level_errors)


def coverage(house: House, name: str, truth: object, *, truths: int, draws: int, seed: int = 7) -> dict[str, float]:
    """Share of truths that lie in the stated 90 % intervals, by quantity.

    Parameters
    ----------
    house, name
        The house and the name of its scenario.
    truth
        One of `TRUTHS`.
    truths, draws
        How many truths, and draws for the intervals.
    seed
        Of the truths.
    """
    from ventplan.advice.intervals import READ, Solved, interval
    from ventplan.airing.age import outdoor_air_change_rates_per_h, purging_air_change_rates_per_h
    from ventplan.network import solve

    state, rng = house.scenarios[name], np.random.default_rng(seed)
    stated = interval(house, state, draws=draws)
    held = dict.fromkeys(stated.quantities, 0)
    for _ in range(truths):
        variant, varied = truth(house, state, rng)  # type: ignore[operator]
        flow = solve(variant, varied)
        rates = (purging_air_change_rates_per_h, outdoor_air_change_rates_per_h)
        solved = Solved(flow, *(rate(variant, varied, flow) for rate in rates))
        for quantity, one in zip(stated.quantities, stated.intervals, strict=True):
            held[quantity] += one.low <= READ[quantity.kind](solved, quantity.name) <= one.high
    return {f"{q.kind} {q.name}".strip(): count / truths for q, count in held.items()}


def coverage_table(*, truths: int, draws: int) -> str:
    """Shares of truths in the stated intervals as a table in Markdown, one row for each kind of truth."""
    shown = ("air from outdoors", "net flow near", "ratio 0")
    cases = [(scenario, name) for scenario in ("at 1 m", "windy") for name in shown]
    heads = ["truth", *(f"{scenario}: {name.removesuffix(' 0')}" for scenario, name in cases)]
    lines = [heads, ["---"] * len(heads)]
    for truth in TRUTHS:
        held = {s: coverage(rig(), s, truth, truths=truths, draws=draws) for s in ("at 1 m", "windy")}
        said = (truth.__doc__ or "").splitlines()[0].removesuffix(".")
        lines.append([said, *(f"{100.0 * held[scenario][name]:.0f} %" for scenario, name in cases)])
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


if __name__ == "__main__":
    print(coverage_table(truths=400, draws=512))

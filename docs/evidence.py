"""Tables of docs/model.md (the model against flow simulations and practice) and docs/sure.md (what is uncertain)."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from importlib.resources import files
from unittest.mock import patch

import numpy as np

from tests.outside.practice import Observation, expected, observations
from tests.outside.simulations import (
    SITUATIONS,
    Case,
    all_cases,
    all_cases_anew,
    errors_left_out,
    more_room_cases,
    opening_cases,
    rms,
    room_cases,
    wind_cases,
)
from ventplan.physics import jet_path

VARIED = {
    "EDGE": (1.35, 1.5, 1.65),
    "EDGE_POWER": (0.2, 0.4, 0.6),
    "RETURN_LENGTH": (2.2, 2.8, 3.6),
    "DRAG": (0.08, 0.16, 0.24),
    "ATTACH": (1.0, 1.2, 1.4),
}
"""The fitted constants of the jet and values around each, the middle one in use."""


@cache
def _left_out() -> tuple[float, ...]:
    return tuple(errors_left_out(all_cases_anew, tuple(VARIED)))


def markdown(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table in Markdown."""
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def _simulated(columns: dict[str, str], cases: Iterable[Case]) -> str:
    rows = (
        (
            *(case.row[column] for column in columns),
            f"{case.simulated_m3_s:.2f}",
            f"{case.model_m3_s:.2f}",
            f"{100.0 * case.error:+.0f} %",
        )
        for case in cases
    )
    return markdown((*columns.values(), "simulated m³/s", "model m³/s", "error, share of the fan's flow"), rows)


def opening_table() -> str:
    """A jet at a round opening."""
    return _simulated({"setback_m": "setback m", "room_minus_outdoors_Pa": "room pressure Pa"}, opening_cases())


def room_table() -> str:
    """A fan in a closed room."""
    return _simulated({"opening": "opening", "setback_m": "setback m", "fan_height_m": "fan height m"}, room_cases())


def _errors_row(name: str, errors: Sequence[float], left_out: Sequence[float] | None) -> tuple[str, ...]:
    return (
        name,
        str(len(errors)),
        f"{float(np.mean(errors)):+.3f}",
        f"{rms(errors):.3f}",
        f"{max(errors, key=abs):+.3f}",
        f"{rms(left_out):.3f}" if left_out is not None else "–",
    )


def summary_table() -> str:
    """One line for each simulation."""
    every = all_cases()
    errors, left_out = [case.error for case in every], _left_out()
    parts = {
        "jet at a hole (RANS)": slice(0, 20),
        "first room (LES)": slice(20, 31),
        "second set of rooms (LES)": slice(31, 92),
        "all together": slice(0, 92),
    }
    rows = [_errors_row(name, errors[part], left_out[part]) for name, part in parts.items()]
    for name, use in (("third set, to develop", "development"), ("third set, kept back", "check")):
        rows.append(_errors_row(name, [case.error for case in more_room_cases(use)], None))
    return markdown(("against", "cases", "mean error", "rms error", "worst error", "rms error, each left out"), rows)


def situation_table() -> str:
    """One line for each situation, all simulated cases together."""
    every = (*all_cases(), *more_room_cases("development"), *more_room_cases("check"))
    rows = []
    for situation in SITUATIONS:
        errors = [case.error for case in every if case.situation == situation]
        rows.append(_errors_row(situation, errors, None)[:-1])
    return markdown(("situation", "cases", "mean error", "rms error", "worst error"), rows)


def wind_table() -> str:
    """Wind through a house."""
    rows = (
        (
            case.name,
            f"{case.simulated_m3_s:.2f}",
            f"{float(case.row['orifice_flow_m3_s']):.2f}",
            f"{case.model_m3_s:.2f}",
            f"{100.0 * case.error:+.0f} %",
        )
        for case in wind_cases()
    )
    return markdown(("windows", "simulated m³/s", "orifices in series m³/s", "model m³/s", "error"), rows)


def _practice_row(seen: Observation) -> tuple[str, ...]:
    answer = expected(seen)
    low, high = (flow / answer.blades_m3_s for flow in answer.flow_m3_s)
    if seen.speed_m_s is not None:
        reported = tuple(speed * answer.area_m2 / answer.blades_m3_s for speed in seen.speed_m_s)
    else:
        reported = (seen.flow_over_blades or 0.0,) * 2
    inside = reported[0] <= high and reported[1] >= low
    place = "–"
    if seen.best_setback_m is not None:
        near, far = seen.best_setback_m
        best = f"{near:g} m" if near == far else f"{near:g} to {far:g} m"
        place = f"{best} / {answer.best_setback_m:.1f} m"
    share = _two_digits(reported[0]) if reported[0] == reported[1] else f"below {_two_digits(reported[1])}"
    return (
        seen.claim,
        share,
        _two_digits(answer.mean_m3_s / answer.blades_m3_s),
        f"{_two_digits(low)} to {_two_digits(high)}",
        "yes" if inside else "no, too low",
        place,
    )


def practice_table() -> str:
    """What practice reports, flows as shares of the flow through the blades."""
    heads = (
        "practice",
        "reported",
        "model",
        "expected reading",
        "reported is inside",
        "best setback, practice / model",
    )
    return markdown(heads, map(_practice_row, observations()))


def fit_table() -> str:
    """Root mean square errors with one constant changed at a time."""
    rows = []
    for name, values in VARIED.items():
        for value in values:
            with patch.object(jet_path, name, value):
                errors = [case.error for case in all_cases_anew()]
            used = f"`{name}`" + (" (in use)" if value == values[1] else "")
            rows.append((used, f"{value:g}", *map(_three, map(rms, (errors[:20], errors[20:], errors)))))
    all_cases_anew()
    return markdown(("constant", "value", "rms error at a hole", "rms error in rooms", "rms error of all"), rows)


def uncertainties_table() -> str:
    """The standard uncertainty of every cause, and its source."""
    text = files("ventplan.advice").joinpath("data", "uncertainties.toml").read_text("utf-8")
    rows = (
        (f"`{name}`", f"{cause['value']:g}", cause["unit"], cause["source"])
        for name, cause in tomllib.loads(text).items()
    )
    return markdown(("cause", "standard uncertainty", "unit", "source"), rows)


def _two_digits(value: float) -> str:
    return f"{value:#.2g}"


def _three(value: float) -> str:
    return f"{value:.3f}"


TABLES: dict[str, Callable[[], str]] = {
    "summary": summary_table,
    "opening": opening_table,
    "room": room_table,
    "situations": situation_table,
    "wind": wind_table,
    "practice": practice_table,
    "fit": fit_table,
    "uncertainties": uncertainties_table,
}

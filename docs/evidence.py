"""The tables of docs/model.md: the model against two flow simulations and against practice, and how flat its fit is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from unittest.mock import patch

from tests.outside.practice import Observation, expected, observations
from tests.outside.simulations import Case, errors_left_out, opening_cases, rms, room_cases
from ventplan.physics import jet_path

VARIED = {
    "EDGE": (1.2, 1.35, 1.5, 1.65, 1.8),
    "EDGE_POWER": (0.0, 0.25, 0.5, 0.75, 1.0),
    "ATTACH": (0.8, 1.0, 1.2, 1.4, 1.8),
    "RETURN_LENGTH": (1.6, 2.0, 2.4, 3.0, 4.0),
}
"""The four fitted constants of the jet and values around each, the middle one in use."""


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


def summary_table() -> str:
    """One line for each simulation."""
    at_opening, in_room = opening_cases(), room_cases()
    left_out = dict(zip((id(case) for case in (*at_opening, *in_room)), errors_left_out(tuple(VARIED)), strict=True))
    free = [case for case in at_opening if case["room_minus_outdoors_Pa"] == 0.0 and case["setback_m"] >= 0.25]
    near = [case for case in in_room if case["setback_m"] < 0.5]
    rest = [case for case in in_room if case["setback_m"] >= 0.5]
    groups = {
        "jet at an opening, all cases": at_opening,
        "jet at an opening, no back pressure, 0.25 m back or more": free,
        "fan in a room, all cases": in_room,
        "fan in a room, in the doorway": near,
        "fan in a room, 0.5 m back or more": rest,
    }
    rows = (
        (
            name,
            str(len(cases)),
            f"{rms(case.error for case in cases):.3f}",
            f"{max((case.error for case in cases), key=abs):+.3f}",
            f"{rms(left_out[id(case)] for case in cases):.3f}",
        )
        for name, cases in groups.items()
    )
    return markdown(("against", "cases", "rms error", "worst error", "rms error, each case left out of the fit"), rows)


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
        told = f"{near:g} m" if near == far else f"{near:g} to {far:g} m"
        place = f"{told} / {answer.best_setback_m:.1f} m"
    told = f"{reported[0]:.2f}" if reported[0] == reported[1] else f"below {reported[1]:.2f}"
    return (
        seen.claim,
        told,
        f"{answer.mean_m3_s / answer.blades_m3_s:.2f}",
        f"{low:.2f} to {high:.2f}",
        "yes" if inside else "within 25 %" if answer.allows(*(r * answer.blades_m3_s for r in reported)) else "no",
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
                errors = (rms(case.error for case in cases()) for cases in (opening_cases, room_cases))
                rows.append(
                    (f"`{name}`" + (" (in use)" if value == values[2] else ""), f"{value:g}", *map(_three, errors))
                )
    return markdown(("constant", "value", "rms error at an opening", "rms error in a room"), rows)


def _three(value: float) -> str:
    return f"{value:.3f}"


TABLES: dict[str, Callable[[], str]] = {
    "summary": summary_table,
    "opening": opening_table,
    "room": room_table,
    "practice": practice_table,
    "fit": fit_table,
}

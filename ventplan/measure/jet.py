"""A walk down the jet: centre-line speeds against distance, and profiles across, to thrust, spread and flow.

For a Gaussian jet, u = Uc exp(-(r/b)^2) with Uc = sqrt(2 T / (pi rho)) / b and b = b0 + k s, so that

    1 / Uc = alpha + beta s,    alpha = b0 sqrt(pi rho / (2 T)),    beta = k sqrt(pi rho / (2 T)).

A line has two numbers and the jet has three (T, b0, k): the walk alone gives b0 / k = alpha / beta and
k^2 / T = 2 beta^2 / (pi rho), and nothing else. One more thing settles all three:

- the flow through the blades, since Q0 = sqrt(2 pi T / rho) b0 makes T = rho Q0 / (2 alpha);
- the thrust from a scale;
- a profile across the jet at one distance: T = rho (pi / 2) Uc^2 b^2.

Near the fan there is a core where Uc does not fall yet; those readings do not belong on the line.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ventplan.errors import NoAnswerError
from ventplan.measure.profile import PROFILE_ERROR
from ventplan.measure.propagation import PairEstimator
from ventplan.measure.uncertainty import CALIBRATION, Estimate, Source, single
from ventplan.measure.walk import Walk


@dataclass(frozen=True)
class JetResult:
    """What the readings say about a jet; None for what they cannot say.

    Attributes
    ----------
    thrust, flow
        Thrust [N], and flow at the start of the jet, which is that of the blades [m3/s].
    spread, start_half_width
        k [-], and b0, the half-width to 1/e of the centre speed at the blades [m].
    origin
        b0 / k: how far behind the blades the straight jet would have begun [m].
    spread_squared_over_thrust
        k^2 / T [1/N], all that the slope alone says.
    checks
        How a flow that was given too agrees, one plain sentence each.
    known, unknown
        What can and what cannot be known from what was given, one plain sentence each.
    """

    thrust: Estimate | None = None
    flow: Estimate | None = None
    spread: Estimate | None = None
    start_half_width: Estimate | None = None
    origin: Estimate | None = None
    spread_squared_over_thrust: Estimate | None = None
    known: tuple[str, ...] = ()
    checks: tuple[str, ...] = ()
    unknown: tuple[str, ...] = ()


def jet_from_walk(
    walk: Walk,
    *,
    density_kg_m3: float,
    flow: Estimate | None = None,
    thrust: Estimate | None = None,
    profile_thrust: Estimate | None = None,
    same_anemometer: bool = False,
    profile_error: float = PROFILE_ERROR,
    seed: int = 1,
    draws: int = 10_000,
) -> JetResult:
    """What a walk says, alone or together with one thing more.

    Parameters
    ----------
    walk
        The line.
    density_kg_m3
        Density of the air [kg/m3].
    flow
        Flow through the blades, measured otherwise [m3/s].
    thrust
        Thrust from a scale [N]; comes before ``profile_thrust``, and that before ``flow``.
    profile_thrust
        Thrust from a profile across the jet [N].
    same_anemometer
        True where the flow was read with the anemometer of the walk: its scale error e then makes T too
        large by 2 e, not by sqrt(2) e, since both Q0 and 1 / alpha carry it.
    profile_error
        Relative standard uncertainty of a thrust that rests on the Gaussian shape [-].
    seed, draws
        Seed and number of the draws that check linear propagation.

    Raises
    ------
    NoAnswerError
        Where the line's intercept is not above zero and the flow is what should settle the rest.
    """
    estimate = PairEstimator(walk.sources, seed, draws)
    pi, rho = math.pi, density_kg_m3
    origin = estimate(lambda alpha, beta: alpha / beta, (), "m")
    ratio = estimate(lambda alpha, beta: 2.0 * beta**2 / (pi * rho), (), "1/N")
    given = thrust or profile_thrust
    if given is not None:
        name = "thrust from the scale" if thrust is not None else "thrust from the profile"
        source = single(name, mean=given.value, standard=given.standard, degrees=given.degrees)
        extra: tuple[Source, ...] = (source,)
        at_blades = estimate(lambda alpha, beta, t: 2.0 * t * alpha / rho, extra, "m3/s")
        spread = estimate(lambda alpha, beta, t: beta * np.sqrt(2.0 * t / (pi * rho)), extra, "")
        known, unknown = _told(thrust=given, spread=spread, flow_at_the_blades=at_blades)
        return JetResult(
            thrust=given,
            flow=at_blades,
            spread=spread,
            start_half_width=estimate(lambda alpha, beta, t: alpha * np.sqrt(2.0 * t / (pi * rho)), extra, "m"),
            origin=origin,
            spread_squared_over_thrust=ratio,
            known=tuple(f"{names}: the {name} settles what the line leaves open." for names in known),
            unknown=(*unknown, "Whether the jet is Gaussian: a Gaussian jet with these figures makes this walk."),
            checks=(_agreement(at_blades, flow, profile_error),) if flow is not None else (),
        )
    if flow is None:
        return JetResult(origin=origin, spread_squared_over_thrust=ratio, known=_LINE_KNOWS, unknown=_LINE_LEAVES)
    if walk.line.intercept <= 0.0:
        raise NoAnswerError(
            "The line of the walk meets the blades at or below zero, so the flow cannot settle the thrust. "
            "Walk closer to the fan (just beyond the core), or weigh the thrust."
        )
    scale, rest = 0.0, flow.standard
    if same_anemometer:
        shared = math.sqrt(sum(share.standard**2 for share in flow.budget if share.name == CALIBRATION))
        scale, rest = shared / flow.value, math.sqrt(max(flow.standard**2 - shared**2, 0.0))
        estimate = PairEstimator(tuple(source for source in walk.sources if source.name != CALIBRATION), seed, draws)
    extra = (
        single("flow through the blades", mean=flow.value, standard=rest, degrees=flow.degrees),
        single(CALIBRATION, mean=1.0, standard=scale),
        single("Gaussian shape", mean=1.0, standard=profile_error),
    )
    by_flow = estimate(lambda alpha, beta, q, e, g: rho * q * g * e**2 / (2.0 * alpha), extra, "N")
    spread = estimate(lambda alpha, beta, q, e, g: beta * np.sqrt(q * g / (pi * alpha)), extra, "")
    known, unknown = _told(thrust=by_flow, spread=spread)
    return JetResult(
        thrust=by_flow,
        flow=flow,
        spread=spread,
        start_half_width=estimate(lambda alpha, beta, q, e, g: np.sqrt(alpha * q * g / pi), extra, "m"),
        origin=origin,
        spread_squared_over_thrust=ratio,
        known=tuple(f"{names}: the flow settles what the line leaves open, T = rho Q0 / (2 alpha)." for names in known),
        unknown=(
            *unknown,
            "Whether the jet starts as a Gaussian of the blades' flow: "
            f"{profile_error:.0%} of thrust is allowed for it.",
        ),
    )


def _told(**figures: Estimate) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """The names of what is known, as the head of a sentence (none where nothing is), and a sentence for each figure
    that is not: one whose 95 % interval reaches down to nothing."""
    open_ = {name: figure for name, figure in figures.items() if figure.interval[0] <= 0.0}
    names = [name.replace("_", " ") for name in figures if name not in open_]
    head = " and ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))
    unknown = [
        f"{name.replace('_', ' ').capitalize()}: the readings leave it anywhere from nothing to "
        f"{f'{figure.interval[1]:.2g} {figure.unit}'.strip().replace('m3/s', 'm³/s')}. Take more of them, farther "
        "apart along the jet, or measure it otherwise."
        for name, figure in open_.items()
    ]
    return ((f"{head[:1].upper()}{head[1:]}",) if head else ()), tuple(unknown)


def _agreement(by_thrust: Estimate, given: Estimate, profile_error: float) -> str:
    """Whether the flow that was given agrees with the one from the thrust and the walk."""
    off = math.log(by_thrust.value / given.value)
    sigmas = off / math.sqrt(by_thrust.relative**2 + given.relative**2 + profile_error**2)
    verdict = "they agree" if abs(sigmas) <= 2.0 else "they contradict one another: look at both again"
    return (
        f"the flow that was given is {given.value:.3f} m³/s, thrust and walk say {by_thrust.value:.3f} m³/s "
        f"({abs(sigmas):.1f} standard deviations apart): {verdict}."
    )


_LINE_KNOWS = ("b0 / k from where the line would meet zero, and k^2 / T from its slope.",)
_LINE_LEAVES = (
    "Thrust, spread and flow each by itself: a line has two numbers and a jet has three. A fan of four times "
    "the thrust, twice the spread and four times the flow makes the same walk.",
    "Add one of these to settle them: the flow through the blades, the thrust from a scale, or a profile "
    "across the jet at one distance.",
)

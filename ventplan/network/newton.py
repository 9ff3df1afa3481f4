"""Newton's method for the pressures of the rooms: one source for one state or many, in numpy or compiled.

What is solved
--------------
Every link carries a mass flow m(x) that never falls as its driving pressure x rises. With node pressures p, links from
a to b, and offsets o (wind, stack, fans), the static difference of a link is y = p_a - p_b + o, and

    x_j = y_j + sum over couplings i -> j of share * max(sign * y_i, 0),        F(p) = sum of m leaving each room = 0.

A coupling (`ventplan.network.links.Coupling`) says that the opening j is also driven by a share of the drop at the
opening i in line with it. Without couplings F is the gradient of a convex potential, and there is one answer. With
couplings, the shares that leave an opening one way, and those that arrive at an opening, must each add up to less than
1: air cannot pass on more than it has. Then every start leads to one answer in hundreds of random houses
(``tests/laws/network/test_couplings.py``); with larger sums there may be none.

How
---
1. *Flow steps*, from no start: each link is a straight line through a point of its law. Where the law is nearly a
   square root, a step of pressure from x to x' moves that point as a step of flow would, to (x + x')^2 / 4x (Todini and
   Pilati 1988, the gradient method for pipes). They only have to come near.
2. *Newton steps* with a line search. Without couplings the search follows the slope of the potential along the step,
   F . d, until it has lost half its size; it cannot fail, because the potential is convex. With couplings there is no
   potential, and a step is taken where it lowers the largest imbalance, halved until it does; since F . dF < 0 along a
   Newton step, a short enough one always does.
3. *Stop* where the largest imbalance is at the level of rounding, or below `TOLERANCE_KG_S` and no step improves on it.

How to use it
-------------
`ventplan.network.solver.solve_pressures` solves one network, `ventplan.network.solver.solve_choices` many states of one
house; both take couplings. An engine brings four operations for its own kind of ``work`` (`flow_step`, `evaluate`,
`newton_step` and `take`).

`ventplan.network.numpy_engine` does them with arrays: numbers and flags are floats and bools for one state, arrays
(states,) for many. `ventplan.network.numba_engine` compiles `settle` itself, and runs it state by state.
"""

from __future__ import annotations

from typing import Any

import numpy as np

TOLERANCE_KG_S = 1e-10
"""Largest imbalance of any room, over 1 + the largest flow [kg/s]."""
ROUNDING_KG_S = 1e-14
"""Imbalance that no step improves on, over 1 + the largest flow [kg/s]."""
NEAR = 1e-2
"""Change of a flow over the largest flow at which flow steps give way to Newton steps [-]."""
FLOW_STEPS = 30
MAX_ROUNDS = 600
"""Balances that a state may take."""
LINE_SEARCH_TRIALS = 60
LEAST_MOVE_PA = 1e-14
LEAST_POINT_PA = 1e-15
DECREASE = 1e-4
"""Share of the decrease that a Newton step promises which it must reach, with couplings [-] (Armijo 1966)."""


def pick(condition: Any, yes: Any, no: Any) -> Any:
    """``yes`` where the condition holds, otherwise ``no``; for one state or for arrays of states."""
    if isinstance(condition, np.ndarray):
        return np.where(condition, yes, no)
    return yes if condition else no


def some(condition: Any) -> bool:
    """True where the condition holds for any state."""
    return bool(condition.any()) if isinstance(condition, np.ndarray) else bool(condition)


def flow_step(work: Any, going: Any) -> Any:
    """One flow step; True where a state still moves."""
    return work.flow_step(going)


def evaluate(work: Any, share: Any, going: Any) -> tuple[Any, Any, Any]:
    """Balance at pressure + share * step: F . d, the largest imbalance and the largest flow [kg/s]."""
    found: tuple[Any, Any, Any] = work.evaluate(share, going)
    return found


def newton_step(work: Any, fresh: Any) -> tuple[Any, Any]:
    """The step d from the last balance: F . d, and its largest change of pressure [Pa]."""
    found: tuple[Any, Any] = work.newton_step(fresh)
    return found


def take(work: Any, taken: Any) -> None:
    """The trial becomes the pressure."""
    work.take(taken)


def settle(work: Any, going: Any, coupled: bool, started: bool) -> Any:
    """Find the pressures at which every room balances.

    Parameters
    ----------
    work
        The states, as the engine holds them.
    going
        True for every state: one flag, or an array (states,).
    coupled
        True where there are couplings.
    started
        True where ``work`` holds pressures to start from, which saves the flow steps.
    Returns
    -------
    bool or ndarray
        True where a state does not balance.
    """
    moving = going
    if not started:
        for _ in range(FLOW_STEPS):
            moving = flow_step(work, moving)
            if not some(moving):
                break
    share = low = low_slope = reach = trials = pick(going, 0.0, 0.0)
    start = high = high_slope = before = pick(going, np.inf, np.inf)  # Where it starts is taken as it is.
    polished = pick(going, False, False)
    for _ in range(MAX_ROUNDS):
        along, worst, most = evaluate(work, share, going)
        trials = trials + 1.0
        good = worst <= (1.0 - DECREASE * share) * before if coupled else abs(along) <= 0.5 * abs(start)
        good = good | polished | (trials >= LINE_SEARCH_TRIALS) | (share * reach < LEAST_MOVE_PA)
        taken = going & good
        take(work, taken)
        near = worst <= TOLERANCE_KG_S * (1.0 + most)
        balanced = taken & near & (polished | (worst <= ROUNDING_KG_S * (1.0 + most)))
        going = going & (balanced ^ True)
        if not some(going):
            break
        if coupled:
            share = 0.5 * share
        else:
            short, far = along < 0.0, along >= 0.0
            low, low_slope = pick(short, share, low), pick(short, along, low_slope)
            high, high_slope = pick(far, share, high), pick(far, along, high_slope)
            bounded = high < np.inf
            top, top_slope = pick(bounded, high, 2.0 * share), pick(bounded, high_slope, 0.0)
            chord = low - low_slope * (top - low) / pick(top_slope > low_slope, top_slope - low_slope, 1.0)
            chord = pick(chord < 0.9 * low + 0.1 * top, 0.9 * low + 0.1 * top, chord)
            chord = pick(chord > 0.1 * low + 0.9 * top, 0.1 * low + 0.9 * top, chord)
            share = pick(going, pick(far, chord, pick(bounded, 0.5 * (low + top), 2.0 * share)), 0.0)
        fresh = taken & going
        if some(fresh):
            slope, length = newton_step(work, fresh)
            start, reach, before = pick(fresh, slope, start), pick(fresh, length, reach), pick(fresh, worst, before)
            low, low_slope, trials = pick(fresh, 0.0, low), pick(fresh, slope, low_slope), pick(fresh, 0.0, trials)
            high, high_slope = pick(fresh, np.inf, high), pick(fresh, np.inf, high_slope)
            share, polished = pick(fresh, 1.0, share), pick(fresh, near, polished)
    return going

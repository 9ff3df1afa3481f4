"""Newton's method over many states of one house together, with numpy.

All ways that carry air in any of the states lie end to end in flat arrays (``ways``); rooms are (rooms, states).
States that have settled leave the arrays; the rest go on, each with its own line search, as in
`ventplan.network.solve`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.network.bulk_table import CRACK_FIGURES, STRIP_FIGURES, ChoiceTable, Columns
from ventplan.network.laws import crack_mass_flow, plain_strip_flow
from ventplan.network.solve import MAX_STEPS, TOLERANCE_KG_S
from ventplan.physics.buoyancy import net_mass_flow_and_slope, two_way_flow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Law = dict[str, Floats]

LINE_SEARCH_TRIALS = 60
LEAST_MOVE_PA = 1e-14


@dataclass(frozen=True)
class _Ways:
    """Ways of one kind that carry air.

    Attributes
    ----------
    names
        Names of the figures.
    figures
        Their figures, shape (figures, ways).
    place
        State, a, b and opening of each, shape (4, ways).
    """

    names: tuple[str, ...]
    figures: Floats
    place: Ints

    @property
    def law(self) -> Law:
        """Figures by name."""
        return dict(zip(self.names, self.figures, strict=True))

    def only(self, keep: Bools) -> _Ways:
        """Some of them."""
        index = np.flatnonzero(keep)
        return _Ways(self.names, self.figures.take(index, axis=1), self.place.take(index, axis=1))


def _gather(columns: Columns, names: tuple[str, ...], choices: Ints) -> _Ways:
    rows = columns.rows(choices)
    column, state = np.nonzero(columns.carries[rows])
    place = np.stack([state, columns.a[column], columns.b[column], columns.opening[column]])
    return _Ways(names, columns.figures.take(rows[column, state], axis=1), place)


def _sums(at: Ints, values: Floats, size: int) -> Floats:
    """Sum of the values at each place; numpy gives whole numbers where there are none."""
    return np.bincount(at, values, size).astype(np.float64, copy=False)


class _States:
    """Some states: their ways for air, and which of their rooms are cut off.

    Parameters
    ----------
    kinds
        Upright strips (the pressure difference changes over their height), plain strips and cracks.
    cut_off
        1 for rooms without a way to outdoors, shape (rooms, states).
    """

    def __init__(self, kinds: tuple[_Ways, _Ways, _Ways], cut_off: Floats) -> None:
        self.kinds, self.cut_off = kinds, cut_off
        self.rooms, self.count = cut_off.shape
        self.state, a, b, self.opening = np.concatenate([ways.place for ways in kinds], axis=1)
        self.laws = [ways.law for ways in kinds]
        self.offset_pa: Floats = np.concatenate([law.pop("offset_pa") for law in self.laws])
        self.ends = np.cumsum([ways.place.shape[1] for ways in kinds])
        places = self.rooms + 1
        self._at_a, self._at_b = a * self.count + self.state, b * self.count + self.state
        self._at_aa, self._at_bb, self._at_ab, self._at_ba = (
            (i * places + j) * self.count + self.state for i, j in ((a, a), (b, b), (a, b), (b, a))
        )

    def only(self, keep: Bools) -> _States:
        """Fewer of them."""
        number = np.cumsum(keep) - 1
        kinds = [ways.only(keep[ways.place[0]]) for ways in self.kinds]
        for ways in kinds:
            ways.place[0] = number[ways.place[0]]
        return _States((kinds[0], kinds[1], kinds[2]), self.cut_off[:, keep])

    def driving(self, pressure: Floats) -> Floats:
        """Pressure difference at the middle of each way."""
        places = np.append(pressure, np.zeros((1, self.count)))
        driving: Floats = places[self._at_a] - places[self._at_b] + self.offset_pa
        return driving

    def left(self, flow: Floats) -> Floats:
        """Net flow that leaves each room."""
        size = (self.rooms + 1) * self.count
        left = _sums(self._at_a, flow, size) - _sums(self._at_b, flow, size)
        return left.reshape(self.rooms + 1, self.count)[:-1]

    def mass_flow_and_slope(self, driving: Floats) -> tuple[Floats, Floats]:
        """Net mass flow of each way, and its slope."""
        upright, plain, crack = np.split(driving, self.ends[:-1])
        parts = [
            net_mass_flow_and_slope(dp_mid_pa=upright, **self.laws[0]),
            plain_strip_flow(plain, self.laws[1]),
            crack_mass_flow(crack, self.laws[2]),
        ]
        return np.concatenate([part[0] for part in parts]), np.concatenate([part[1] for part in parts])

    def balance(self, pressure: Floats) -> tuple[Floats, Floats, Floats]:
        """Imbalances of the rooms, mass flows and slopes of the ways."""
        flow, slope = self.mass_flow_and_slope(self.driving(pressure))
        return self.left(flow), flow, slope

    def volume_flows(self, driving: Floats) -> tuple[Floats, Floats]:
        """Volume flow of each way, forward and backward."""
        upright, plain, crack = np.split(driving, self.ends[:-1])
        law = {name: values for name, values in self.laws[0].items() if not name.startswith("density")}
        ahead, back = two_way_flow(dp_mid_pa=upright, **law)
        one = {"density_forward": np.ones(1), "density_backward": np.ones(1)}
        net = np.concatenate(
            [plain_strip_flow(plain, self.laws[1] | one)[0], crack_mass_flow(crack, self.laws[2] | one)[0]]
        )
        return np.append(ahead, np.maximum(net, 0.0)), np.append(back, np.maximum(-net, 0.0))

    def step(self, slope: Floats, imbalance: Floats) -> Floats:
        """Newton's step of every state."""
        places = self.rooms + 1
        size = places * places * self.count
        matrix = _sums(self._at_aa, slope, size) + _sums(self._at_bb, slope, size)
        matrix -= _sums(self._at_ab, slope, size)
        matrix -= _sums(self._at_ba, slope, size)
        matrix = matrix.reshape(places, places, self.count)
        matrix[np.arange(self.rooms), np.arange(self.rooms)] += self.cut_off
        return _solve_definite(matrix[:-1, :-1], -imbalance)

    def largest_flow(self, flow: Floats) -> Floats:
        """Largest mass flow of each state."""
        largest = np.zeros(self.count)
        np.maximum.at(largest, self.state, np.abs(flow))
        return largest


def _solve_definite(matrix: Floats, right: Floats) -> Floats:
    """Solve symmetric positive definite systems (n, n, states) for (n, states) by elimination, in place."""
    count = right.shape[0]
    for k in range(count - 1):
        factor = matrix[k + 1 :, k] / matrix[k, k]
        matrix[k + 1 :, k + 1 :] -= factor[:, None] * matrix[k, k + 1 :]
        right[k + 1 :] -= factor * right[k]
    for k in range(count - 1, -1, -1):
        right[k] -= np.sum(matrix[k, k + 1 :] * right[k + 1 :], axis=0)
        right[k] /= matrix[k, k]
    return right


def _cut_off(rooms: int, strips: _Ways, cracks: _Ways, states: int) -> Bools:
    """True for every room without a way to outdoors, shape (rooms, states)."""
    state, a, b, _ = np.concatenate([strips.place, cracks.place], axis=1)
    reached = np.zeros((rooms + 1, states), dtype=bool)
    reached[rooms] = True
    while True:
        grows = reached[a, state] != reached[b, state]
        if not grows.any():
            return ~reached[:-1]
        reached[a[grows], state[grows]] = True
        reached[b[grows], state[grows]] = True


def _states_of(table: ChoiceTable, choices: Ints) -> _States:
    strips = _gather(table.strips, STRIP_FIGURES, choices)
    cracks = _gather(table.cracks, CRACK_FIGURES, choices)
    cut_off = _cut_off(len(table.nodes), strips, cracks, choices.shape[0])
    if cut_off.any():
        with_outdoors = np.vstack([cut_off, np.zeros((1, choices.shape[0]), dtype=bool)])
        strips, cracks = (ways.only(~with_outdoors[ways.place[1], ways.place[0]]) for ways in (strips, cracks))
    upright = strips.law["stack_gradient_pa_m"] != 0.0
    return _States((strips.only(upright), strips.only(~upright), cracks), cut_off.astype(float))


def solve_states(
    table: ChoiceTable,
    choices: Ints,
    *,
    pressure: Floats,
    forward: Floats,
    backward: Floats,
    mass: Floats,
    imbalance: Floats,
) -> int:
    """Solve some states of a house into arrays that are given.

    Parameters
    ----------
    table
        The house and what each of its openings can be.
    choices
        Which choice each opening is in, shape (states, openings).
    pressure
        Shape (states, rooms) [Pa].
    forward, backward
        Shape (states, openings) [m3/s].
    mass
        Shape (states, openings) [kg/s].
    imbalance
        Shape (states,) [kg/s].

    Returns
    -------
    int
        A state that does not balance, or -1.
    """
    states = _states_of(table, choices)
    found, bad = _settle(states)
    driving = states.driving(found)
    left, flow, _ = states.balance(found)
    ahead, back = states.volume_flows(driving)
    openings = choices.shape[1] + 1
    at = states.state * openings + states.opening
    for out, each in ((forward, ahead), (backward, back), (mass, flow)):
        out[:] = _sums(at, each, choices.shape[0] * openings).reshape(-1, openings)[:, :-1]
    pressure[:] = found.T
    imbalance[:] = np.max(np.abs(left), axis=0, initial=0.0)
    return bad


def _settle(states: _States) -> tuple[Floats, int]:
    """Pressures at which every state balances, and a state that does not balance or -1."""
    found = np.zeros((states.rooms, states.count))
    left = np.arange(states.count)
    driving = states.offset_pa
    # One step with every way's chord at a pascal: the slopes at rest are far too stiff to start from.
    _, slope = states.mass_flow_and_slope(np.where(np.abs(driving) > 1.0, driving, 1.0))
    pressure = states.step(slope, states.left(slope * driving))
    imbalance, flow, slope = states.balance(pressure)
    for _ in range(MAX_STEPS):
        worst = np.max(np.abs(imbalance), axis=0, initial=0.0)
        going = worst > TOLERANCE_KG_S * np.maximum(1.0, states.largest_flow(flow))
        step = states.step(slope, imbalance)
        if not going.all():
            found[:, left[~going]] = _polish(states, pressure, step, worst, ~going)
            if not going.any():
                return found, -1
            states, left = states.only(going), left[going]
            pressure, step, imbalance = pressure[:, going], step[:, going], imbalance[:, going]
        pressure, imbalance, flow, slope = _search(states, pressure, step, imbalance)
    found[:, left] = pressure
    return found, int(left[0])


def _polish(states: _States, pressure: Floats, step: Floats, worst: Floats, settled: Bools) -> Floats:
    """One more step where it helps: it brings the imbalance to rounding."""
    before, closer = pressure[:, settled], (pressure + step)[:, settled]
    imbalance, _, _ = states.only(settled).balance(closer)
    return np.where(np.max(np.abs(imbalance), axis=0, initial=0.0) < worst[settled], closer, before)


def _search(
    states: _States, pressure: Floats, step: Floats, imbalance: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Go along each state's step to where its potential's slope has lost half its size."""
    start = np.sum(imbalance * step, axis=0)
    reach = np.max(np.abs(step), axis=0)
    trial = pressure + step
    after, flow, slope = states.balance(trial)
    along = np.sum(after * step, axis=0)
    share, low, low_slope = np.ones_like(start), np.zeros_like(start), start.copy()
    high, high_slope = np.full_like(start, np.inf), np.full_like(start, np.inf)
    for _ in range(LINE_SEARCH_TRIALS):
        more = (np.abs(along) > 0.5 * np.abs(start)) & (share * reach >= LEAST_MOVE_PA)
        if not more.any():
            break
        short, far = more & (along < 0.0), more & (along >= 0.0)
        low, low_slope = np.where(short, share, low), np.where(short, along, low_slope)
        high, high_slope = np.where(far, share, high), np.where(far, along, high_slope)
        bounded = np.isfinite(high)
        top, top_slope = np.where(bounded, high, 2.0 * share), np.where(bounded, high_slope, 0.0)
        chord = low - low_slope * (top - low) / np.where(top_slope > low_slope, top_slope - low_slope, 1.0)
        inside = np.clip(chord, low + 0.1 * (top - low), top - 0.1 * (top - low))
        further = np.where(far, inside, np.where(bounded, 0.5 * (low + top), 2.0 * share))
        share = np.where(more, further, share)
        some, ways = states.only(more), more[states.state]
        trial[:, more] = pressure[:, more] + share[more] * step[:, more]
        after[:, more], flow[ways], slope[ways] = some.balance(trial[:, more])
        along = np.sum(after * step, axis=0)
    return trial, after, flow, slope

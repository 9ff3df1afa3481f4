"""Newton's method over many states of one house together, with numpy.

Arrays are (columns, states): a column is one way for air (`ventplan.network.bulk_table`). States that have settled
leave the arrays; the rest go on, each with its own line search, as in `ventplan.network.solve`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ventplan.errors import NoAnswerError
from ventplan.network.bulk_table import CRACK_FIGURES, STRIP_FIGURES, ChoiceTable, Columns
from ventplan.network.solve import MAX_STEPS, TOLERANCE_KG_S
from ventplan.physics.buoyancy import net_mass_flow_and_slope, two_way_flow
from ventplan.physics.crack import crack_flow, crack_flow_slope
from ventplan.physics.orifice import face_velocity, face_velocity_slope

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

LINE_SEARCH_TRIALS = 60
LEAST_MOVE_PA = 1e-14


@dataclass(frozen=True)
class _Shape:
    """What all states share: how columns join rooms.

    Attributes
    ----------
    incidence
        +1 where a column leaves a room, -1 where it enters it, shape (rooms, columns).
    laplacian
        Where the slope of a column goes in the matrix of the rooms, shape (rooms * rooms, columns).
    """

    incidence: Floats
    laplacian: Floats


def _shape(table: ChoiceTable) -> _Shape:
    rooms = len(table.nodes)
    kinds = (table.upright, table.plain, table.cracks)
    a, b = (np.concatenate([getattr(kind, end) for kind in kinds]) for end in ("a", "b"))
    incidence = np.zeros((rooms + 1, a.size))
    np.add.at(incidence, (a, np.arange(a.size)), 1.0)
    np.add.at(incidence, (b, np.arange(a.size)), -1.0)
    incidence = incidence[:rooms]
    laplacian = (incidence[:, None, :] * incidence[None, :, :]).reshape(rooms * rooms, a.size)
    return _Shape(incidence, laplacian)


class _States:
    """The figures of some states.

    Attributes
    ----------
    upright, plain, crack
        Figures by name, each of shape (columns, states).
    carries
        1 where a column carries air, 0 where it is not there or leads nowhere, shape (columns, states).
    """

    def __init__(self, table: ChoiceTable, shape: _Shape, rows: tuple[Ints, Ints, Ints], cut_off: Floats) -> None:
        self.table, self.shape, self.rows, self.cut_off = table, shape, rows, cut_off
        self.upright = _figures(table.upright, STRIP_FIGURES, rows[0])
        self.plain = _figures(table.plain, STRIP_FIGURES, rows[1])
        self.crack = _figures(table.cracks, CRACK_FIGURES, rows[2])
        offsets = [kind.pop("offset_pa") for kind in (self.upright, self.plain, self.crack)]
        self.offset_pa: Floats = np.concatenate(offsets)
        if cut_off.any():
            dead = np.abs(shape.incidence.T) @ cut_off > 0.0
            u, p = self.counts[0], self.counts[0] + self.counts[1]
            self.upright["width_m"] = np.where(dead[:u], 0.0, self.upright["width_m"])
            self.plain["width_m"] = np.where(dead[u:p], 0.0, self.plain["width_m"])
            self.crack["coefficient"] = np.where(dead[p:], 0.0, self.crack["coefficient"])

    @property
    def counts(self) -> tuple[int, int, int]:
        """How many upright, plain and crack columns there are."""
        return self.rows[0].shape[0], self.rows[1].shape[0], self.rows[2].shape[0]

    def only(self, keep: Bools) -> _States:
        """The same for fewer states."""
        rows = (self.rows[0][:, keep], self.rows[1][:, keep], self.rows[2][:, keep])
        return _States(self.table, self.shape, rows, self.cut_off[:, keep])

    def driving(self, pressure: Floats) -> Floats:
        """Pressure difference at the middle of each column."""
        driving: Floats = self.shape.incidence.T @ pressure + self.offset_pa
        return driving

    def mass_flow_and_slope(self, driving: Floats) -> tuple[Floats, Floats]:
        """Net mass flow of each column and its slope."""
        upright, plain, _ = self.counts
        up, flat, crack = driving[:upright], driving[upright : upright + plain], driving[upright + plain :]
        parts = [net_mass_flow_and_slope(dp_mid_pa=up, **self.upright)] if upright else []
        parts += [_plain_flow(flat, self.plain)] if plain else []
        parts += [_crack_flow(crack, self.crack)] if crack.size else []
        flows, slopes = zip(*parts, strict=True)
        return np.concatenate(flows), np.concatenate(slopes)

    def volume_flows(self, driving: Floats) -> tuple[Floats, Floats]:
        """Volume flow of each column forward and backward."""
        upright, plain, _ = self.counts
        law = {name: values for name, values in self.upright.items() if not name.startswith("density")}
        forward, backward = np.zeros_like(driving), np.zeros_like(driving)
        forward[:upright], backward[:upright] = two_way_flow(dp_mid_pa=driving[:upright], **law)
        net = np.concatenate(
            [
                _plain_flow(driving[upright : upright + plain], self.plain, with_density=False)[0],
                _crack_flow(driving[upright + plain :], self.crack, with_density=False)[0],
            ]
        )
        forward[upright:], backward[upright:] = np.maximum(net, 0.0), np.maximum(-net, 0.0)
        return forward, backward

    def step(self, slope: Floats, imbalance: Floats) -> Floats:
        """Newton's step of every state."""
        rooms = imbalance.shape[0]
        matrix = (self.shape.laplacian @ slope).reshape(rooms, rooms, -1)
        if self.cut_off.any():
            matrix[np.arange(rooms), np.arange(rooms)] += self.cut_off
        return _solve_definite(matrix, -imbalance)

    def balance(self, pressure: Floats) -> tuple[Floats, Floats, Floats]:
        """Imbalances of the rooms, flows and slopes of the columns."""
        flow, slope = self.mass_flow_and_slope(self.driving(pressure))
        return self.shape.incidence @ flow, flow, slope


def _figures(columns: Columns, names: tuple[str, ...], rows: Ints) -> dict[str, Floats]:
    return dict(zip(names, np.take(columns.figures, rows, axis=1), strict=True))


def _plain_flow(dp: Floats, law: dict[str, Floats], *, with_density: bool = True) -> tuple[Floats, Floats]:
    ahead = dp > 0.0
    linear = np.where(ahead, law["linear_forward"], law["linear_backward"])
    quadratic = np.where(ahead, law["quadratic_forward"], law["quadratic_backward"])
    passed = law["width_m"] * law["height_m"]
    if with_density:
        passed = passed * np.where(ahead, law["density_forward"], law["density_backward"])
    velocity = face_velocity(dp_pa=dp, linear=linear, quadratic=quadratic)
    slope = face_velocity_slope(dp_pa=dp, linear=linear, quadratic=quadratic)
    return np.asarray(passed * velocity), np.asarray(passed * slope)


def _crack_flow(dp: Floats, law: dict[str, Floats], *, with_density: bool = True) -> tuple[Floats, Floats]:
    figures = {"dp_pa": dp, "coefficient": law["coefficient"], "exponent": law["exponent"]}
    density = np.where(dp >= 0.0, law["density_forward"], law["density_backward"]) if with_density else 1.0
    return np.asarray(density * crack_flow(**figures)), np.asarray(density * crack_flow_slope(**figures))


def _solve_definite(matrix: Floats, right: Floats) -> Floats:
    """Solve symmetric positive definite systems, (n, n, states) and (n, states), by elimination in place."""
    count = right.shape[0]
    solution = right.copy()
    for k in range(count - 1):
        factor = matrix[k + 1 :, k] / matrix[k, k]
        matrix[k + 1 :, k + 1 :] -= factor[:, None] * matrix[k, k + 1 :]
        solution[k + 1 :] -= factor * solution[k]
    for k in range(count - 1, -1, -1):
        solution[k] -= np.sum(matrix[k, k + 1 :] * solution[k + 1 :], axis=0)
        solution[k] /= matrix[k, k]
    return solution


def _cut_off(table: ChoiceTable, shape: _Shape, states: _States) -> Floats:
    """1 for every room without a way to outdoors, shape (rooms, states)."""
    there = np.concatenate(
        [
            states.upright["width_m"] * states.upright["height_m"] > 0.0,
            states.plain["width_m"] * states.plain["height_m"] > 0.0,
            states.crack["coefficient"] > 0.0,
        ]
    ).astype(float)
    touches = np.abs(shape.incidence)
    leaves = (np.sum(touches, axis=0) == 1.0)[:, None]
    reached = (touches @ (there * leaves) > 0.0).astype(float)
    for _ in table.nodes:
        passed = there * (touches.T @ reached > 0.0)
        further = (touches @ passed + reached > 0.0).astype(float)
        if np.array_equal(further, reached):
            break
        reached = further
    return 1.0 - reached


def solve_states(table: ChoiceTable, choices: Ints) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Solve some states of a house.

    Parameters
    ----------
    table
        The house and what each of its openings can be.
    choices
        Which choice each opening is in, shape (states, openings).

    Returns
    -------
    tuple of ndarray
        Pressure (rooms, states) [Pa]; volume flow forward and backward and net mass flow (openings, states)
        [m3/s], [m3/s], [kg/s]; largest imbalance (states,) [kg/s].

    Raises
    ------
    NoAnswerError
        Where a state does not balance.
    """
    shape = _shape(table)
    with_always = np.vstack([choices.T, np.zeros((1, choices.shape[0]), dtype=np.int64)])
    kinds = (table.upright, table.plain, table.cracks)
    rows = (kinds[0].rows(with_always), kinds[1].rows(with_always), kinds[2].rows(with_always))
    none = np.zeros((len(table.nodes), choices.shape[0]))
    states = _States(table, shape, rows, none)
    cut_off = _cut_off(table, shape, states)
    if cut_off.any():
        states = _States(table, shape, rows, cut_off)
    pressure = _settle(states) if table.nodes and states.offset_pa.size else none
    return _read(table, states, pressure)


def _settle(states: _States) -> Floats:
    """Pressures at which every state balances."""
    found = np.zeros_like(states.cut_off)
    left = np.arange(found.shape[1])
    driving = states.offset_pa
    # One step with every column's chord at a pascal: the slopes at rest are far too stiff to start from.
    _, slope = states.mass_flow_and_slope(np.where(np.abs(driving) > 1.0, driving, 1.0))
    pressure = states.step(slope, states.shape.incidence @ (slope * driving))
    imbalance, flow, slope = states.balance(pressure)
    for _ in range(MAX_STEPS):
        worst = np.max(np.abs(imbalance), axis=0)
        going = worst > TOLERANCE_KG_S * np.maximum(1.0, np.max(np.abs(flow), axis=0))
        step = states.step(slope, imbalance)
        if not going.all():
            found[:, left[~going]] = _polish(states, pressure, step, worst, ~going)
            if not going.any():
                return found
            states, left = states.only(going), left[going]
            pressure, step, imbalance = pressure[:, going], step[:, going], imbalance[:, going]
        pressure, imbalance, flow, slope = _search(states, pressure, step, imbalance)
    first = int(np.argmax(worst))
    raise NoAnswerError(
        f"the air of a house does not balance in one of its states: {worst[first]:.3g} kg/s are left after {MAX_STEPS} "
        "steps. Please report this house: every house should have an answer."
    )


def _polish(states: _States, pressure: Floats, step: Floats, worst: Floats, settled: Bools) -> Floats:
    """One more step where it helps: it brings the imbalance to rounding."""
    some = states.only(settled)
    before, closer = pressure[:, settled], (pressure + step)[:, settled]
    imbalance, _, _ = some.balance(closer)
    return np.where(np.max(np.abs(imbalance), axis=0) < worst[settled], closer, before)


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
        trial[:, more] = pressure[:, more] + share[more] * step[:, more]
        after[:, more], flow[:, more], slope[:, more] = states.only(more).balance(trial[:, more])
        along = np.sum(after * step, axis=0)
    return trial, after, flow, slope


def _read(table: ChoiceTable, states: _States, pressure: Floats) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    """Flows of the openings at the solved pressures."""
    driving = states.driving(pressure)
    size = (table.choice_count.size + 1, pressure.shape[1])
    if not driving.size:
        nothing = np.zeros(size)[:-1]
        return pressure, nothing, nothing, nothing, np.zeros(pressure.shape[1])
    imbalance, mass, _ = states.balance(pressure)
    columns = np.concatenate([table.upright.opening, table.plain.opening, table.cracks.opening])
    gather = (np.arange(size[0])[:, None] == columns).astype(float)[:-1]
    forward, backward = states.volume_flows(driving)
    worst = np.max(np.abs(imbalance), axis=0, initial=0.0)
    return pressure, gather @ forward, gather @ backward, gather @ mass, worst

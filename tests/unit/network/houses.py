"""Random houses for the tests of the network: rooms joined at random by strips and cracks."""

from __future__ import annotations

import numpy as np

from ventplan.network.choices import Choice, ChoiceTable
from ventplan.network.links import Coupling, Crack, FlowNetwork, Strip

GRAVITY = 9.80665


def random_ends(random: np.random.Generator, rooms: int, openings: int) -> list[tuple[int, int]]:
    """Two places for each opening: a tree over the rooms first, then to outdoors or across."""
    ends = []
    for opening in range(openings):
        if opening < rooms - 1:
            ends.append((int(random.integers(0, opening + 1)), opening + 1))
        elif opening == rooms - 1 or random.random() < 0.6 or rooms == 1:
            ends.append((int(random.integers(0, rooms)), rooms))
        else:
            a, b = random.choice(rooms, 2, replace=False)
            ends.append((int(a), int(b)))
    return ends


def random_strip(
    random: np.random.Generator, owner: int, ends: tuple[int, int], density: np.ndarray, push: float = 0.0
) -> Strip:
    """A strip with its own losses, a wind, a stack and perhaps a push by a fan."""
    a, b = ends
    linear, quadratic = 10.0 ** random.uniform(-4.0, 0.0), random.uniform(0.5, 6.0)
    difference = density[a] - density[b]
    return Strip(
        owner=owner,
        a=a,
        b=b,
        width_m=random.uniform(0.02, 1.2),
        height_m=random.uniform(0.2, 2.1),
        linear_a=linear,
        quadratic_a=quadratic,
        linear_b=linear * random.uniform(0.8, 1.25),
        quadratic_b=quadratic * random.uniform(0.8, 1.25),
        density_a=density[a],
        density_b=density[b],
        gradient_pa_m=GRAVITY * difference * (random.random() < 0.7),
        wind_pa=random.normal(0.0, 2.0) if b == density.size - 1 else 0.0,
        stack_pa=-GRAVITY * difference * random.uniform(0.5, 6.0),
        fan_pa=push,
    )


def random_crack(random: np.random.Generator, owner: int, ends: tuple[int, int], density: np.ndarray) -> Crack:
    """A crack between two places."""
    a, b = ends
    return Crack(
        owner=owner,
        a=a,
        b=b,
        coefficient=10.0 ** random.uniform(-4.0, -1.5),
        exponent=random.uniform(0.5, 1.0),
        density_a=density[a],
        density_b=density[b],
        wind_pa=random.normal(0.0, 2.0) if b == density.size - 1 else 0.0,
        stack_pa=-GRAVITY * (density[a] - density[b]) * random.uniform(0.5, 6.0),
    )


def random_density(random: np.random.Generator, rooms: int) -> np.ndarray:
    """Density of every place; now and then the same everywhere."""
    if random.random() < 0.3:
        return np.full(rooms + 1, 1.2)
    return random.uniform(1.1, 1.32, rooms + 1)


def random_options(
    seed: int, rooms: int, openings: int, *, sealed: bool = False
) -> tuple[tuple[str, ...], list[list[Choice]], list[Crack]]:
    """A house as nodes, choices of every opening (shut, open, open with a jet) and leaks of the walls.

    With ``sealed`` shut openings and walls let nothing through, so that rooms can be cut off.
    """
    random = np.random.default_rng(seed)
    density = random_density(random, rooms)
    options = []
    for owner, ends in enumerate(random_ends(random, rooms, openings)):
        shut = Choice(cracks=() if sealed else (random_crack(random, owner, ends, density),))
        plain = random_strip(random, owner, ends, density)
        jet = random_strip(random, owner, ends, density, push=random.uniform(-6.0, 6.0))
        options.append([shut, Choice(strips=(plain,)), Choice(strips=(jet, plain))])
    always = [] if sealed else [random_crack(random, -1, (0, rooms), density)]
    return tuple(f"room {i}" for i in range(rooms)), options, always


def one_state(table_of: tuple[tuple[str, ...], list[list[Choice]], list[Crack]], row: np.ndarray) -> FlowNetwork:
    """The network of one state of such a house."""
    nodes, options, always = table_of
    picked = [choices[i] for choices, i in zip(options, row, strict=True)]
    strips = [strip for choice in picked for strip in choice.strips]
    return FlowNetwork(nodes, strips, [c for choice in picked for c in choice.cracks] + always)


def random_network(seed: int, rooms: int, openings: int) -> FlowNetwork:
    """A house in one state, every opening in one of its choices and every room with a way to outdoors."""
    house = random_options(seed, rooms, openings)
    row = np.random.default_rng([seed, 1]).integers(0, 3, openings)
    return one_state(house, row)


def as_table(house: tuple[tuple[str, ...], list[list[Choice]], list[Crack]]) -> ChoiceTable:
    """The same house as a table."""
    return ChoiceTable(*house)


def grid_network(seed: int, side: int) -> FlowNetwork:
    """Rooms on a square grid, each joined to its neighbours, with a window in every room of the two end rows."""
    random = np.random.default_rng(seed)
    rooms = side * side
    density = random_density(random, rooms)
    number = np.arange(rooms).reshape(side, side)
    pairs = [
        *zip(number[:, :-1].ravel().tolist(), number[:, 1:].ravel().tolist(), strict=True),
        *zip(number[:-1].ravel().tolist(), number[1:].ravel().tolist(), strict=True),
        *((room, rooms) for room in (*number[0].tolist(), *number[-1].tolist())),
    ]
    strips = [random_strip(random, owner, ends, density) for owner, ends in enumerate(pairs)]
    return FlowNetwork([f"room {i}" for i in range(rooms)], strips, [])


def random_couplings(seed: int, network: FlowNetwork, count: int, *, most: float = 0.9) -> list[Coupling]:
    """Streams that go on from one opening to the next: out of one link into a room, on through another one.

    The shares that leave a link one way, and those that arrive at one link, add up to ``most`` at the most.
    """
    random = np.random.default_rng(seed)
    rooms, found = len(network.nodes), list[Coupling]()
    given: dict[tuple[int, float], float] = {}
    got: dict[int, float] = {}
    ends = list(zip(network.a[: network.laws.strips].tolist(), network.b[: network.laws.strips].tolist(), strict=True))
    for _ in range(count if network.laws.strips > 1 else 0):
        source, target = random.choice(network.laws.strips, 2, replace=False).tolist()
        for sign, room in ((1.0, ends[source][1]), (-1.0, ends[source][0])):
            if room < rooms and room in ends[target]:
                onwards = 1.0 if ends[target][0] == room else -1.0
                left = most - max(given.get((source, sign), 0.0), got.get(target, 0.0))
                share = random.uniform(0.0, max(left, 0.0))
                given[source, sign] = given.get((source, sign), 0.0) + share
                got[target] = got.get(target, 0.0) + share
                found.append(Coupling(source, target, sign, onwards * share))
    return found

"""What the compiled engine works on: blocks of memory that numpy makes and fills, one row for each figure."""

from __future__ import annotations

from collections import namedtuple

SIZES = 9
STATES, OPENINGS, STARTED, STRIPS, LINKS, ROWS, NODES, TOUCHED, COUPLINGS = range(SIZES)
"""Numbers of states, openings, 1 where there is a start, strip columns, columns, rows of the table, nodes with
outdoors, later neighbours in the order of elimination, and couplings."""

Blocks = namedtuple(
    "Blocks", "sizes table later link_ints node_ints coupling_ints link_floats node_floats coupling_floats"
)
"""The blocks, in the order in which their addresses are passed."""

LINK_INTS, NODE_INTS, COUPLING_INTS, LINK_FLOATS, NODE_FLOATS, COUPLING_FLOATS = 9, 3, 6, 13, 4, 6
"""Rows of the blocks by link, by node and by coupling; that of floats by node has a square matrix besides."""

Memory = namedtuple(
    "Memory",
    "sizes table later starts columns ends rows number order first reached pairs source target "
    "figures flow slope driving point left pressure trial step matrix signs sign share gains given counts",
)
"""A house, and one state of it.

The house: ``starts``, ``columns`` (a, b, opening), ``table`` and the couplings' ``pairs`` (source, choice, target,
choice) and ``signs`` (sign, share) as in `ventplan.network.choices.ChoiceTable`; ``order``, ``first`` and ``later``
as in `ventplan.network.factors.elimination_order`.

The state: ``counts`` (strips, links, couplings, flow steps done); ``ends`` (a, b, opening) and ``figures`` of the links
that carry air; ``source`` to ``given`` of its couplings; the rest by link or by node.
"""


def memory_of(blocks: Blocks) -> Memory:
    """Name the rows of the blocks; numba compiles this too."""
    links, nodes, pairs = blocks.link_ints, blocks.node_ints, blocks.coupling_ints
    by_link, by_node, by_pair = blocks.link_floats, blocks.node_floats, blocks.coupling_floats
    return Memory(
        blocks.sizes,
        blocks.table,
        blocks.later,
        links[0],
        links[1:4],
        links[4:7],
        links[7],
        links[8],
        nodes[0],
        nodes[1],
        nodes[2],
        pairs[0:4],
        pairs[4],
        pairs[5],
        by_link[0:9],
        by_link[9],
        by_link[10],
        by_link[11],
        by_link[12],
        by_node[0],
        by_node[1],
        by_node[2],
        by_node[3],
        by_node[4:],
        by_pair[0:2],
        by_pair[2],
        by_pair[3],
        by_pair[4],
        by_pair[5],
        blocks.sizes[SIZES:],
    )

"""What the compiled engine works on: blocks of memory that numpy makes and fills, one row for each figure.

The names below are rows of the blocks. The house is what `ventplan.network.choices.ChoiceTable` holds and the pattern
of `ventplan.network.factors.elimination_order`; the rest is one state of it, whose links that carry air lie together.
"""

from __future__ import annotations

from collections import namedtuple

from ventplan.network.links import FIGURES

Blocks = namedtuple("Blocks", "sizes table later link_ints node_ints pair_ints links nodes pairs")
"""The blocks, in the order in which their addresses are passed: sizes (`SIZES`,); the table of figures (rows,
`FIGURES`); later neighbours in the order of elimination; whole numbers and floats by link, by node (outdoors is the
last) and by pair of coupled links."""

SIZES = 13
STATES, OPENINGS, STARTED, COLUMN_STRIPS, COLUMNS, ROWS, NODES, TOUCHED, PAIRS = range(9)
STRIPS, LINKS, COUPLINGS, FLOW_STEPS_DONE = range(9, SIZES)
"""Of the house: numbers of states, openings, 1 where there is a start, strip columns, columns, rows of the table,
nodes, later neighbours and coupled pairs. Of the state: strips, links, couplings, and flow steps done."""

LINK_INTS = 9
FIRST_ROW, COLUMN_A, COLUMN_B, COLUMN_OPENING, A, B, OPENING, ROW, NUMBER = range(LINK_INTS)
"""Of each column: its first row, nodes and opening. Of each link: its nodes and opening. Of each column in this state:
its row, and the number of its link or -1."""

NODE_INTS = 3
ORDER, FIRST_LATER, REACHED = range(NODE_INTS)
"""Which room is eliminated in each turn, where its later neighbours begin, and 1 for nodes that air reaches."""

PAIR_INTS = 6
SOURCE_COLUMN, SOURCE_CHOICE, TARGET_COLUMN, TARGET_CHOICE, SOURCE, TARGET = range(PAIR_INTS)
"""Of each pair: the columns and choices that it couples. Of each coupling in this state: its links."""

LINK_FLOATS = FIGURES + 4
FLOW, SLOPE, DRIVING, POINT = range(FIGURES, LINK_FLOATS)
"""After the figures of each link: mass flow, slope, driving pressure, and the point of its law in flow steps."""

NODE_FLOATS = 4
LEFT, PRESSURE, TRIAL, STEP = range(NODE_FLOATS)
"""Net flow that leaves each node, pressure, trial and step; the matrix has the rows after them."""

PAIR_FLOATS = 6
PAIR_SIGN, PAIR_SHARE, SIGN, SHARE, GAIN, GIVEN = range(PAIR_FLOATS)
"""Sign and share of each pair; of each coupling in this state sign, share, gain and what it adds."""

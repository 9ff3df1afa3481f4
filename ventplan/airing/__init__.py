"""What the flow does over time: clearing, age of air, cool nights, comfort; and hazards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class NoteCode(StrEnum):
    """What an answer rests on or leaves out; the comment says what the names and numbers of a note are."""

    PARTLY_MIXED = "partly-mixed"  # by room: share of the air that mixes
    DOORWAY_EXCHANGE = "doorway-exchange"  # difference_k
    LEAKAGE_ASSUMED = "leakage-assumed"
    UNUSUAL_OUTDOORS = "unusual-outdoors"  # temperature_c
    WEATHER_ASSUMED = "weather-assumed"  # columns, each with its value
    HEADINGS_UNKNOWN = "headings-unknown"  # headings
    DAILY_CURVE = "daily-curve"
    HOURS_COUNTED = "hours-counted"  # share

    # Of measurements:
    ONE_LINE_PEAKED = "one-line-peaked"  # too_high: share by which the flow may be too high
    ONE_LINE_EVEN = "one-line-even"  # allowed: share
    DOWNSTREAM_UNUSED = "downstream-unused"
    ONE_PLACE = "one-place"
    STREAM_CONTRACTS = "stream-contracts"  # divided_by
    BELOW_START_UP = "below-start-up"  # area: share; start_up_m_s
    THRUST_NEAR_ZERO = "thrust-near-zero"  # below_n
    ONE_DIRECTION = "one-direction"  # allowed: share
    DIRECTIONS_DIFFER = "directions-differ"
    SAME_DIRECTION = "same-direction"
    THRUST_BY_FLOW = "thrust-by-flow"  # factor of rho Q^2 / A, error
    TYPICAL_SPREAD = "typical-spread"  # spread, error
    IMPLAUSIBLE = "implausible"  # thrust [N], flow [m3/s] or spread: value, lowest, highest
    THRUST_UNLIKE_FLOW = "thrust-unlike-flow"  # flow_m3_s, diameter_m, expected_n, thrust_n
    UNLIKE_FILE = "unlike-file"  # thrust [N] or flow [m3/s]: file, readings
    ODD_SETTING = "odd-setting"  # setting: share of the highest
    CONTRADICTION = "contradiction"  # readings: chance, limit; by reading: standard deviations off the others
    CHECK_READING = "check-reading"  # reading; off: standard deviations above what the others give
    UNITS_READ = "units-read"  # columns, each with its unit after it
    TIMES_UNREADABLE = "times-unreadable"
    UNEVEN_LOG = "uneven-log"  # uneven, steps
    LOGGED_SERIES = "logged-series"  # readings, settling, kept, independent, enough
    VANE_STILL = "vane-still"  # lines
    SETUP_OF_FILE = "setup-of-file"  # column, lines
    LEFT_OUT = "left-out"  # readings
    SET_ASIDE = "set-aside"  # readings
    FARTHEST_APART = "farthest-apart"  # reading above, reading below
    ALL_ON_ONE_SIDE = "all-on-one-side"  # above or below


@dataclass(frozen=True)
class Note:
    """What an answer rests on or leaves out, as data; `ventplan.show.cautions` has the sentences.

    Attributes
    ----------
    code
        Kind.
    names, numbers
        What it is about, as `NoteCode` lists them.
    """

    code: NoteCode
    names: tuple[str, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)

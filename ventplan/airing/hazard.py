"""What an answer can cause, as data: a code, what it is about, and numbers. Sentences are made in `ventplan.show`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class HazardCode(StrEnum):
    """Kinds of hazards, the gravest first.

    The comment beside each code says what its ``names`` are and which ``numbers`` it has.
    """

    FLAME_FLAGGED = "flame-flagged"  # room, appliance; depressurisation_pa, by_fans_pa, limit_pa
    FLAME_MILD = "flame-mild"  # room, appliance; depressurisation_pa, by_fans_pa, limit_pa
    GARAGE_AIR = "garage-air"  # garage; flow_m3_s
    GARAGE_WALL = "garage-wall"  # room, garage; depressurisation_pa
    SMOKE = "smoke"  # flow_m3_s
    FIRE_DOOR = "fire-door"  # door
    STORM = "storm"  # openings; wind_m_s
    FALL = "fall"  # opening; gap_m, drop_m, screened
    FAN_FALL = "fan-fall"  # fan, opening; drop_m
    OPEN_UNATTENDED = "open-unattended"  # openings
    RAIN = "rain"  # fan, opening; setback_m, sealed
    FAN_OUTDOORS = "fan-outdoors"  # fan, opening; setback_m, sealed
    FAN_IN_DOORWAY = "fan-in-doorway"  # fan, opening; setback_m, sealed
    CIRCUIT = "circuit"  # room; fans_w, heater_w
    HEATER_BESIDE_FANS = "heater-beside-fans"  # room; fans_w, heater_w
    DAMP_AIR = "damp-air"  # room; dew_point_c, room_c, humidity
    DAMP_WALLS = "damp-walls"  # room; humidity, damp_h, shut_h
    DAMP_WALLS_SHUT = "damp-walls-shut"  # room; humidity, damp_h, shut_h
    NOISE = "noise"  # room, fans; level_db
    DRAUGHT = "draught"  # place; temperature_c, speed_m_s, bothered
    STRONG_AIR = "strong-air"  # place; speed_m_s, limit_m_s
    WARM_AIR = "warm-air"  # flow_m3_s, warmer_k


NEVER_FIRST = frozenset({HazardCode.FLAME_FLAGGED, HazardCode.GARAGE_AIR, HazardCode.SMOKE, HazardCode.FIRE_DOOR})
"""Hazards that no plan may cause if it is to be recommended first: poisoning, and fire that spreads (our rule; each
limit has its source where it stands). What a person can mend, such as a fan to be fastened, is a caution."""


@dataclass(frozen=True)
class Hazard:
    """Something that an answer causes and that somebody should know.

    Attributes
    ----------
    code
        Kind.
    names
        What it is about: rooms, openings, fans, as `HazardCode` lists them.
    numbers
        What was computed, in SI, as `HazardCode` lists them.
    """

    code: HazardCode
    names: tuple[str, ...] = ()
    numbers: Mapping[str, float] = field(default_factory=dict)


def may_come_first(hazards: Iterable[Hazard]) -> bool:
    """True where none of the hazards bars a plan from being recommended first."""
    return not any(hazard.code in NEVER_FIRST for hazard in hazards)


def weight(code: HazardCode) -> int:
    """Place among the codes, 0 for the gravest."""
    return list(HazardCode).index(code)

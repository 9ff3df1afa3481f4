"""The catalogues of generic fans, screens and sashes, and the one table of defaults: data files, read once."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import Any, Literal

from ventplan.house.fields import Amount
from ventplan.house.records import Screen
from ventplan.house.schema import FanSpec, ScreenSpec
from ventplan.house.units import INCH, System, parse_quantity
from ventplan.house.yaml_text import parse_yaml
from ventplan.physics.screen import plain_weave_open_area_ratio


def data(name: str) -> dict[str, Any]:
    """A data file of the package as plain maps."""
    loaded: dict[str, Any] = parse_yaml(files("ventplan.house").joinpath("data", name).read_text("utf-8"), name).data
    return loaded


METRIC_TEXT = re.compile(r"(?<![\w.])\d+(?:\.\d+)? (?:m3/[sh]|m/s|[cm]?m|°C|W/K)(?![\w/])")
"""A metric quantity of the starter file."""


def starter_text(system: System = "si") -> str:
    """The commented house file to start from, which teaches every key, in SI or US customary units."""
    text = files("ventplan.house").joinpath("starter.yaml").read_text("utf-8")
    if system == "si":
        return text
    counterparts = data("starter_us.yaml")
    in_us = METRIC_TEXT.sub(lambda found: str(counterparts[found[0]]), text)
    return in_us.replace("show: si ", "show: us ")


@lru_cache(maxsize=1)
def assumptions() -> Mapping[str, Any]:
    """Every default of the house file, SI."""
    return data("assumptions.yaml")


@lru_cache(maxsize=1)
def usual_figures() -> Mapping[str, Any]:
    """What figures of a house usually are, SI."""
    return data("usual.yaml")


@lru_cache(maxsize=1)
def usual_words() -> Mapping[str, Any]:
    """Words of the trade for kinds of opening, sashes and places, and what the file calls them."""
    return data("words.yaml")


@dataclass(frozen=True)
class Sash:
    """How far a kind of sash frees its frame.

    Attributes
    ----------
    full_share
        Free share when opened as far as it goes [-].
    full_angle_deg
        Angle at which that is, for a hinged sash [deg].
    opens
        Edge at which the free part of one that shortens the height lies.
    """

    name: str
    moves: str
    along: Literal["width", "height"]
    full_share: float
    full_angle_deg: float
    source: str
    opens: Literal["bottom", "top"] = "bottom"


@lru_cache(maxsize=1)
def sashes() -> Mapping[str, Sash]:
    """The kinds of sash by name."""
    return {
        name: Sash(
            name,
            item["moves"],
            item["along"],
            parse_quantity(item["full"], "share"),
            parse_quantity(item.get("angle", 90), "angle"),
            item["source"],
            item.get("opens", "bottom"),
        )
        for name, item in data("sashes.yaml").items()
    }


def hinged_share(angle_deg: float) -> float:
    """Free share of a frame whose sash is hinged along one side: min(1, sin(angle)), 1 from 90 deg on.

    ``common practice``: the width seen past the free edge; the slots at the two ends are left out.
    """
    return 1.0 if angle_deg >= 90.0 else math.sin(math.radians(max(angle_deg, 0.0)))


def free_share(sash: Sash, amount: Amount, *, full_share: float, leaf_m: float) -> float:
    """Free share of the frame for a share of the way, an angle, or a gap.

    Parameters
    ----------
    sash
        Kind of sash.
    amount
        How far it is open.
    full_share
        Free share when opened as far as it goes here [-].
    leaf_m
        Length of the frame's side that the sash shortens [m].

    Raises
    ------
    ValueError
        If this kind of sash cannot be opened so, with what is allowed.

    Notes
    -----
    A sash that turns about its middle line has two slots. Each is sin(angle) of half the frame, so that together they
    free as much as a sash hinged at one edge; a gap is that of one slot, at the end of half the leaf (plain geometry).
    """
    if amount.kind == "share":
        return amount.value * full_share
    if sash.moves in ("bare", "fixed"):
        raise ValueError(f"a share, yes or no (the sash is {sash.name})")
    if sash.moves == "slides":
        if amount.kind == "angle":
            raise ValueError(f"a share or a gap such as 30 cm (the sash is {sash.name})")
        share = amount.value / leaf_m
        limit = f"a gap of up to {full_share * leaf_m:.2f} m"
    else:
        angle = amount.value
        if amount.kind == "length":
            arm_m = leaf_m / 2.0 if sash.moves == "turns" else leaf_m
            widest = 2.0 * arm_m * math.sin(math.radians(sash.full_angle_deg / 2.0))
            if amount.value > widest * 1.02:
                raise ValueError(f"a gap up to {widest:.2f} m for a sash ({sash.name}) of {leaf_m:.2f} m")
            angle = 2.0 * math.degrees(math.asin(min(1.0, amount.value / (2.0 * arm_m))))
        share = hinged_share(angle)
        if sash.name == "louvre":
            share *= sash.full_share
        limit = f"up to {sash.full_angle_deg:g} deg ({full_share:.0%} of the frame)"
        if angle >= sash.full_angle_deg >= 90.0:
            share = min(share, full_share)
    if share > full_share * 1.02 + 1e-9:
        raise ValueError(f"{limit} for the sash {sash.name}")
    return min(share, full_share)


def screen_of(name: str, spec: ScreenSpec) -> Screen:
    """A screen with the open share of its weave.

    Raises
    ------
    ValueError
        If the wires would overlap.
    """
    covered = [count / INCH * spec.wire for count in spec.threads]
    if max(covered) >= 0.95:
        raise ValueError(f"a wire below {0.95 * INCH / max(spec.threads) * 1000:.2f} mm for so many threads")
    warp, weft = (count / INCH for count in spec.threads)
    share = plain_weave_open_area_ratio(warp_per_m=warp, weft_per_m=weft, wire_m=spec.wire)
    return Screen(name, float(share), spec.wire)


@lru_cache(maxsize=1)
def screens() -> Mapping[str, Screen]:
    """The catalogue of insect screens by name."""
    return {name: screen_of(name, ScreenSpec.model_validate(item)) for name, item in data("screens.yaml").items()}


@lru_cache(maxsize=1)
def fan_specs() -> Mapping[str, FanSpec]:
    """The catalogue of generic fans by name, as the file would say them."""
    context = {"spreads": assumptions()["spreads"]}
    figures = {name: {k: v for k, v in item.items() if k != "sources"} for name, item in data("fans.yaml").items()}
    return {name: FanSpec.model_validate(item, context=context) for name, item in figures.items()}

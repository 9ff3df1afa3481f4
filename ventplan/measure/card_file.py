"""A fan card in a house file: which setting is the highest, whether the card is believable, and writing it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from ventplan.errors import InputError, InvalidValue
from ventplan.house.records import Fan
from ventplan.house.yaml_text import set_value
from ventplan.measure.fan_card import FanCard
from ventplan.measure.uncertainty import LEAST_CHANCE


def card_entries(
    card: FanCard, *, power_w: Mapping[str, float], sound_db: Mapping[str, float], highest: str = "high"
) -> dict[str, object]:
    """What the house file says of a fan, key by key, rounded to what the uncertainty deserves.

    Parameters
    ----------
    card
        The card.
    power_w, sound_db
        Measured power [W] and sound [dB(A)] by setting; empty for the highest.
    highest
        What the highest setting is called in the file.
    """
    entries: dict[str, object] = {
        "flow": f"{card.flow.value:.3g} m3/s",
        "thrust": f"{card.thrust.value:.3g} N",
        "spread": float(f"{card.spread.value:.3g}"),
        "flow error": _percent(card.flow.normal_relative),
        "thrust error": _percent(card.thrust.normal_relative),
        "spread error": _percent(card.spread.normal_relative),
    }
    if "" in power_w:
        entries["power"] = f"{power_w['']:.3g} W"
    if "" in sound_db:
        entries["sound"] = f"{sound_db['']:.3g} dB"
    if card.speeds:
        settings: dict[str, object] = {highest: "100 %"}
        for name, speed in card.speeds.items():
            setting: dict[str, object] = {"speed": _percent(speed.value)}
            if name in power_w:
                setting["power"] = f"{power_w[name]:.3g} W"
            if name in sound_db:
                setting["sound"] = f"{sound_db[name]:.3g} dB"
            settings[name] = setting
        entries["settings"] = settings
    return entries


def write_card(
    text: str,
    name: str,
    card: FanCard,
    *,
    power_w: Mapping[str, float],
    sound_db: Mapping[str, float],
    diameter_m: float | None = None,
    highest: str = "high",
) -> str:
    """The text of a house file with a fan's measured figures in it.

    Parameters
    ----------
    text
        The house file.
    name
        The fan; it is added where the file has none of that name.
    card
        The card.
    power_w, sound_db
        Measured power [W] and sound [dB(A)] by setting; empty for the highest.
    diameter_m
        Diameter of the blades [m], where it is to be written too.
    highest
        What the highest setting is called in the file.
    """
    entries = card_entries(card, power_w=power_w, sound_db=sound_db, highest=highest)
    if diameter_m is not None:
        entries["diameter"] = f"{diameter_m * 100:.3g} cm"
    settings = entries.pop("settings", {})
    for key, value in entries.items():
        text = set_value(text, ("fans", name, key), value)
    # One by one, so that settings of the file that were not measured stay.
    for setting, value in settings.items() if isinstance(settings, dict) else ():
        text = set_value(text, ("fans", name, "settings", setting), value)
    return text


def _percent(share: float) -> str:
    return f"{share * 100:.2g} %"


MOST_RATIO = 4.0
"""Factor either way that thrust may be off the momentum of an even stream, rho Q^2 / A, and that a measured figure may
be off the one before (a judgement: hub, tips and swirl make 1 to 1.5 of the first)."""


def doubts(
    card: FanCard, *, density_kg_m3: float, diameter_m: float | None = None, before: Fan | None = None
) -> tuple[str, ...]:
    """What cannot well be true of a card, one plain sentence each; nothing where all is well.

    Thrust is held against rho Q^2 / A, A = pi d^2 / 4, and must be within a factor of 4 of it; so must thrust and flow
    be of what the house file says, where somebody typed them. Readings contradict one another where
    their misfit has a probability below 5 %.

    Parameters
    ----------
    card
        The card.
    density_kg_m3
        Density of the air [kg/m3].
    diameter_m
        Diameter of the blades [m]; without it thrust is not held against flow.
    before
        The fan as the house file has it, if it has.
    """
    found = []
    thrust, flow = card.thrust.value, card.flow.value
    if diameter_m is not None:
        even = density_kg_m3 * flow**2 / (math.pi / 4.0 * diameter_m**2)
        if not 1.0 / MOST_RATIO <= thrust / even <= MOST_RATIO:
            found.append(
                f"a stream of {flow:.2f} m³/s through blades of {diameter_m * 100:.0f} cm pushes with about "
                f"{even:.2g} N, and the card says {thrust:.2g} N: flow, thrust, diameter or a setting's name is wrong"
            )
    if before is not None:
        for name, now, was, unit, key in (
            ("thrust", thrust, before.thrust_n, "N", "thrust_n"),
            ("flow", flow, before.flow_m3_s, "m³/s", "flow_m3_s"),
        ):
            if key not in before.estimated and not 1.0 / MOST_RATIO <= now / was <= MOST_RATIO:
                found.append(f"the house file says a {name} of {was:.3g} {unit}, and the card {now:.3g} {unit}")
    found += [
        f"the speed on {setting} is {speed.value:.0%} of the highest: is it a lower setting?"
        for setting, speed in card.speeds.items()
        if not 0.2 <= speed.value <= 1.0 + 2.0 * speed.standard
    ]
    if card.degrees and card.chance < LEAST_CHANCE:
        found.append(
            "the readings contradict one another: they differ by more than the stated uncertainties allow "
            f"(a probability of {card.chance:.1%}; the limit is {LEAST_CHANCE:.0%}); {at_odds(card)}"
        )
    return tuple(found)


def farthest(card: FanCard) -> dict[str, float]:
    """The readings farthest off what the rest says, with how far [standard deviations]; several where all are alike."""
    far = max((abs(score) for score in card.residuals.values()), default=0.0)
    return {label: score for label, score in card.residuals.items() if abs(score) > 0.95 * far > 0.0}


def at_odds(card: FanCard) -> str:
    """Which readings disagree: the one that all others contradict, or both sides where none can be singled out."""
    found = farthest(card)
    above, below = ([label for label, score in found.items() if (score > 0.0) is side] for side in (True, False))
    sides = [f"{' and '.join(side)} {word}" for side, word in ((above, "above"), (below, "below")) if side]
    said = f"{', '.join(sides)} what the rest says by {max(map(abs, found.values())):.1f} standard deviations"
    return said if len(found) == 1 else f"{said} each, so that nothing tells which of them is wrong: look at all again"


HIGHEST_WORDS = frozenset({"high", "highest", "max", "maximum", "full", "100%", "100 %"})
"""Names that say by themselves that no setting is above."""

LOWER_WORDS = frozenset({"medium", "middle", "mid", "med", "low", "lowest", "min", "minimum", "slow", "quiet", "night"})
"""Names that say by themselves that a setting is above."""


def highest_as_blank(names: Iterable[str], *, listed: Sequence[str] = (), highest: str | None = None) -> dict[str, str]:
    """What each name of a setting stands for: blank for the highest, or one spelling of a lower one.

    A blank name is the highest. So is, of the others, the one that is said to be (``highest``), else the one that the
    fan's card lists first, else one that says so (``high``, ``highest``, ``max``, ``maximum``, ``full``, ``100 %``).

    Parameters
    ----------
    names
        Names as they stand in the readings, blank ones too.
    listed
        Settings on the fan's card, highest first; a name there is known.
    highest
        Name of the highest setting, where it was said.

    Raises
    ------
    InputError
        Where a name may be the highest or not.
    """
    said = list(dict.fromkeys(names))
    spelt = {_plain(name): name for name in (*said[::-1], *listed)}
    plain = dict.fromkeys(_plain(name) for name in said if name.strip())
    cards = [_plain(name) for name in listed]
    words = [name for name in plain if name in HIGHEST_WORDS and name not in cards]
    if highest is not None:
        tops = {_plain(highest)}
    else:
        tops = {*cards[:1], *words}
        unclear = [name for name in plain if name not in tops | LOWER_WORDS and name not in cards]
        if not cards and len(words) > 1:
            raise _unclear([spelt[name] for name in words])
        if unclear and not tops & plain.keys():
            raise _unclear([spelt[name] for name in unclear])
    return {name: "" if _plain(name) in {"", *tops} else spelt[_plain(name)] for name in said}


def _plain(name: str) -> str:
    return " ".join(name.lower().split())


def _unclear(names: Sequence[str]) -> InputError:
    asked = " and ".join(f"`{name}`" for name in names)
    return InputError(
        [
            InvalidValue(
                "setting",
                f"{asked}, which may be the fan's highest or not",
                "a blank for the highest setting, or `high`, `highest` or `max`, and other names for lower ones",
                f"Say which is the highest, such as --highest {names[0]!r}, or list the settings on the fan's card",
            )
        ]
    )

"""A measured fan, written into a house file; everything else in the file stays as it is."""

from __future__ import annotations

from collections.abc import Mapping

from ventplan.house.edit import set_value
from ventplan.measure.fan_card import FanCard


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
        "flow error": _percent(card.flow.relative),
        "thrust error": _percent(card.thrust.relative),
        "spread error": _percent(card.spread.relative),
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

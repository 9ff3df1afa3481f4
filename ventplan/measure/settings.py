"""Which of the names of speed settings is the highest: blank, ``high``, or what the fan's card says."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ventplan.errors import InputError, Mistake

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
            Mistake(
                "setting",
                f"{asked}, which may be the fan's highest or not",
                "a blank for the highest setting, or `high`, `highest` or `max`, and other names for lower ones",
                f"Say which is the highest, such as --highest {names[0]!r}, or list the settings on the fan's card",
            )
        ]
    )

"""The package's public names."""

from __future__ import annotations

from importlib import import_module

import pytest

import ventplan.measure as measure


@pytest.mark.parametrize("name", measure.__all__)
def test_every_public_name_is_there_and_no_module_hides_it(name: str) -> None:
    import_module(f"ventplan.measure.{measure._PUBLIC[name]}")
    assert getattr(measure, name).__module__.startswith("ventplan.measure.")


def test_an_unknown_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="no attribute"):
        _ = measure.no_such_thing

"""Every public name that a package lists leads somewhere."""

from __future__ import annotations

from importlib import import_module

import pytest

PACKAGES = ("ventplan", "ventplan.advice", "ventplan.house", "ventplan.measure", "ventplan.network")


@pytest.mark.parametrize("package", PACKAGES)
def test_every_public_name_of_a_package_can_be_imported(package: str) -> None:
    module = import_module(package)
    assert [name for name in module.__all__ if not hasattr(module, name)] == []


def test_the_terrains_of_the_house_file_are_those_of_the_wind_profiles() -> None:
    from typing import get_args

    from ventplan.physics.wind import TERRAINS, Terrain

    assert get_args(Terrain) == tuple(TERRAINS)

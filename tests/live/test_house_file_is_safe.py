"""Saving writes the one file, in place, and never over what someone else wrote meanwhile."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from ventplan.errors import InputError
from ventplan.live.house_file import ABSENT, HouseFile, NewerOnDisk
from ventplan.live.session import open_session


@pytest.fixture
def file(tmp_path: Path) -> HouseFile:
    path = tmp_path / "house.yaml"
    path.write_text("rooms:\n", "utf-8")
    return HouseFile(path)


def test_the_content_that_was_read_is_replaced(file: HouseFile) -> None:
    _, seen = file.read()
    now = file.write("rooms: {}\n", seen=seen)
    assert file.path.read_text("utf-8") == "rooms: {}\n"
    assert file.digest() == now


def test_a_shorter_text_leaves_nothing_of_the_longer_one(file: HouseFile) -> None:
    _, seen = file.read()
    seen = file.write("a: 1\n" * 100, seen=seen)
    file.write("b: 2\n", seen=seen)
    assert file.path.read_text("utf-8") == "b: 2\n"


def test_newer_content_is_not_overwritten(file: HouseFile) -> None:
    _, seen = file.read()
    file.path.write_text("newer\n", "utf-8")
    with pytest.raises(NewerOnDisk) as caught:
        file.write("older\n", seen=seen)
    assert file.path.read_text("utf-8") == "newer\n"
    file.write("older\n", seen=caught.value.digest)
    assert file.path.read_text("utf-8") == "older\n"


def test_what_is_written_while_the_file_is_being_read_counts_as_newer(
    file: HouseFile, monkeypatch: pytest.MonkeyPatch
) -> None:
    def slowly(path: Path) -> str:
        text = path.read_text("utf-8")
        path.write_text("newer\n", "utf-8")
        return text

    monkeypatch.setattr("ventplan.live.house_file.read_text", slowly)
    _, seen = file.read()
    with pytest.raises(NewerOnDisk):
        file.write("older\n", seen=seen)
    assert file.path.read_text("utf-8") == "newer\n"


def test_a_file_that_appeared_meanwhile_stays(tmp_path: Path) -> None:
    file = HouseFile(tmp_path / "new.yaml")
    file.path.write_text("someone else's\n", "utf-8")
    with pytest.raises(NewerOnDisk):
        file.write("mine\n", seen=ABSENT)
    assert file.path.read_text("utf-8") == "someone else's\n"


def test_a_removed_file_is_not_created_again_without_asking(file: HouseFile) -> None:
    _, seen = file.read()
    file.path.unlink()
    with pytest.raises(NewerOnDisk) as caught:
        file.write("mine\n", seen=seen)
    assert caught.value.digest == ABSENT
    assert not file.path.exists()


def test_no_second_file_appears_and_links_and_permissions_stay(file: HouseFile) -> None:
    link = file.path.parent / "link.yaml"
    link.symlink_to(file.path)
    file.path.chmod(0o640)
    linked = HouseFile(link)
    linked.write("rooms: {}\n", seen=linked.digest())
    assert link.is_symlink()
    assert file.path.read_text("utf-8") == "rooms: {}\n"
    assert file.path.stat().st_mode & 0o777 == 0o640
    assert sorted(os.listdir(file.path.parent)) == ["house.yaml", "link.yaml"]


def test_a_folder_that_cannot_be_written_is_explained(tmp_path: Path) -> None:
    file = HouseFile(tmp_path / "no folder" / "house.yaml")
    with pytest.raises(InputError, match="no folder"):
        file.write("x\n", seen=ABSENT)


def test_opening_a_house_that_does_not_exist_writes_nothing(tmp_path: Path) -> None:
    session = open_session(HouseFile(tmp_path / "new_house.yaml"))
    assert not session.draft.errors
    assert session.unsaved
    assert not list(tmp_path.iterdir())
    session.save()
    assert (tmp_path / "new_house.yaml").read_text("utf-8").startswith("name: New house")

"""On the page: a flat is drawn from nothing with the mouse, quickly, and with lengths that are typed."""

from __future__ import annotations

import struct
import time
import zlib
from pathlib import Path
from typing import Any

import pytest

from ventplan.house import read_house
from ventplan.network import solve


def begin(user: Any, address: str) -> None:
    user.page.goto(address)
    user.page.wait_for_selector("body[data-ready=yes]")


def tool(user: Any, name: str) -> None:
    user.page.locator(f"button[data-tool='{name}']").click()


def count(user: Any, kind: str, number: int) -> None:
    user.until(f"document.querySelectorAll('#plan [data-kind={kind}]').length === {number}")


def room(user: Any, low: tuple[float, float], high: tuple[float, float], name: str, number: int) -> None:
    user.drag(user.on_plan(*low), user.on_plan(*high))
    count(user, "room", number)
    user.page.wait_for_selector("#inline-name")
    user.page.keyboard.type(name)
    user.page.keyboard.press("Enter")
    user.until(f"document.querySelector('#plan [data-kind=room][data-name=\"{name}\"]') !== null")


@pytest.mark.slow
def test_a_flat_of_four_rooms_is_drawn_in_three_minutes_and_has_an_answer(from_nothing: Any, user: Any) -> None:
    begin(user, from_nothing.address(""))
    began = time.monotonic()
    tool(user, "room")
    room(user, (0.0, 0.0), (4.0, 3.5), "living", 1)
    room(user, (4.05, 0.05), (7.0, 3.5), "bedroom", 2)
    room(user, (0.0, 3.55), (4.0, 5.5), "kitchen", 3)
    room(user, (4.0, 3.5), (7.0, 5.45), "bath", 4)
    tool(user, "door")
    for i, spot in enumerate([(4.0, 1.5), (2.0, 3.5), (4.0, 4.5)]):
        user.click(user.on_plan(*spot))
        count(user, "opening", i + 1)
    tool(user, "window")
    for i, spot in enumerate([(0.0, 1.5), (7.0, 1.5), (0.0, 4.5), (7.0, 4.5)]):
        user.click(user.on_plan(*spot))
        count(user, "opening", i + 4)
    user.page.keyboard.press("Escape")
    user.page.locator("label", has_text="Move air").click()
    for name in ("living window", "bedroom window"):
        user.page.locator(f"#table-openings tr[data-name='{name}'] button").click()
        user.page.locator("#thing [data-field=way]").fill("100")
    user.until("document.querySelector('#undo').title.includes('bedroom window')")
    user.page.keyboard.press("Control+s")
    user.until("!document.querySelector('#file-state').textContent.includes('not saved')")
    assert time.monotonic() - began < 180.0
    house = read_house(from_nothing.path)
    assert set(house.rooms) == {"living", "bedroom", "kitchen", "bath"}
    assert house.rooms["bedroom"].corners[0] == (4.0, 0.0), "edges snap to those of other rooms"
    flow = solve(house)
    assert flow.openings["living window"].free_area_m2 > 0.3
    assert flow.openings["living to bedroom"].free_area_m2 > 0.3, "an inner door stands open unless it is shut"


def test_lengths_are_typed_while_a_room_is_drawn(from_nothing: Any, user: Any) -> None:
    begin(user, from_nothing.address(""))
    tool(user, "room")
    user.click(user.on_plan(1.0, 1.0))
    user.page.mouse.move(*user.on_plan(2.3, 2.2))
    user.page.keyboard.type("4.35")
    user.page.keyboard.press("Enter")
    user.page.keyboard.type("320cm")
    assert "320cm" in user.page.text_content("#plan .ghost")
    user.page.keyboard.press("Enter")
    count(user, "room", 1)
    corners = from_nothing.session.draft.house.rooms["room"].corners
    assert corners[0] == (1.0, 1.0)
    assert corners[2] == pytest.approx((5.35, 4.2))


def test_a_guide_shows_which_edge_a_new_one_lies_on_and_escape_drops_it(from_nothing: Any, user: Any) -> None:
    begin(user, from_nothing.address(""))
    tool(user, "room")
    room(user, (0.0, 0.0), (3.0, 3.0), "first", 1)
    user.page.mouse.move(*user.on_plan(3.05, 1.0))
    user.page.mouse.down()
    user.page.mouse.move(*user.on_plan(5.0, 2.95), steps=4)
    assert user.page.locator("#plan .ghost .guide").count() == 1
    assert "2 m" in user.page.text_content("#plan .ghost").replace("2.00", "2")
    user.page.keyboard.press("Escape")
    user.page.mouse.up()
    user.page.wait_for_timeout(150)
    count(user, "room", 1)
    assert user.page.locator("#plan .ghost").count() == 0
    assert user.page.locator("button[data-tool=room]").get_attribute("aria-pressed") == "true", "the tool stays in hand"
    user.page.keyboard.press("Escape")
    assert user.page.locator("button[data-tool='']").get_attribute("aria-pressed") == "true"


def test_furniture_is_drawn_moved_and_removed(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("label", has_text="Draw walls").click()
    tool(user, "furniture")
    user.drag(user.on_plan(3.0, 2.5), user.on_plan(4.5, 3.5))
    count(user, "obstacle", 1)
    assert served.session.draft.house.obstacles["furniture"].room == "living"
    tool(user, "")
    user.drag(user.on_plan(3.7, 3.0), user.on_plan(3.2, 2.7))
    user.until("document.querySelector('#undo').title.includes('move furniture')")
    assert min(served.session.draft.house.obstacles["furniture"].corners) == pytest.approx((2.5, 2.2))
    user.page.get_by_role("button", name="Remove", exact=True).click()
    count(user, "obstacle", 0)
    assert not served.session.draft.errors


def test_a_storey_is_added_over_the_ghost_of_the_one_below_and_stairs_join_them(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("label", has_text="Draw walls").click()
    user.page.locator("#add-storey").click()
    user.page.wait_for_selector("#plan path.below", state="attached")
    tool(user, "room")
    room(user, (0.0, 0.0), (5.0, 4.0), "attic", 1)
    house = served.session.draft.house
    assert house.rooms["attic"].floor_m > house.rooms["living"].ceiling_m
    tool(user, "stairs")
    user.drag(user.on_plan(1.0, 1.0), user.on_plan(2.0, 3.2))
    user.until("document.querySelector('#undo').title.includes('add stairs')")
    stairs = served.session.draft.house.openings["stairs"]
    assert stairs.kind == "shaft"
    assert set(stairs.joins) == {"living", "attic"}
    assert not served.session.draft.errors


def test_north_is_turned_and_your_own_fan_is_added(served: Any, user: Any) -> None:
    user.open(served.address())
    user.page.locator("label", has_text="Draw walls").click()
    field = user.page.locator("#thing [data-field=north]")
    field.fill("30")
    field.press("Enter")
    user.until("document.querySelector('#undo').title.includes('turn north')")
    assert served.session.draft.house.north_deg == 30.0
    user.page.locator("summary", has_text="Add a fan to the house").click()
    user.page.locator("#own-name").fill("attic fan")
    user.page.locator("#own-diameter").fill("40 cm")
    user.page.locator("#own-flow").fill("1800 m3/h")
    user.page.get_by_role("button", name="Add my fan").click()
    user.until("document.querySelector('#undo').title.includes('add attic fan')")
    fan = served.session.draft.house.fans["attic fan"]
    assert fan.diameter_m == pytest.approx(0.4)
    assert fan.flow_m3_s == pytest.approx(0.5)


def grey_picture(path: Path, wide: int, high: int) -> None:
    """A grey PNG."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    rows = b"".join(b"\x00" + b"\x99" * wide for _ in range(high))
    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    path.write_bytes(
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    )


def test_a_photo_is_traced_at_a_scale_set_by_one_known_length_and_never_sent(
    from_nothing: Any, user: Any, tmp_path: Path
) -> None:
    grey_picture(tmp_path / "scan.png", 200, 100)
    begin(user, from_nothing.address(""))
    user.page.locator("summary", has_text="Trace a photo").click()
    sent = len(user.requests)
    user.page.locator("#photo-file").set_input_files(tmp_path / "scan.png")
    user.page.wait_for_selector("#plan image", state="attached")
    assert float(user.page.locator("#plan image").get_attribute("width")) == 10.0
    user.page.locator("#photo-scale").click()
    user.click(user.on_plan(1.0, 1.0))
    user.click(user.on_plan(5.0, 1.0))
    user.page.locator("#known-length").fill("6 m")
    user.page.keyboard.press("Enter")
    user.until("Math.abs(document.querySelector('#plan image').getAttribute('width') - 15) < 0.3")
    assert not [url for url in user.requests[sent:] if not url.startswith(("data:", from_nothing.origin))]
    assert "image" not in from_nothing.session.draft.text
    user.page.reload()
    user.page.wait_for_selector("#plan image", state="attached")

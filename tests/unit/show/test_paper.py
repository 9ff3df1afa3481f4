"""Pictures are the same bytes every time, and say what is missing."""

from __future__ import annotations

import builtins
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from tests.unit.show.solved_examples import solved
from ventplan.errors import InputError
from ventplan.show import paper
from ventplan.show.plan import draw_plan
from ventplan.show.plan_notes import Tint


@pytest.mark.parametrize("kind", ["svg", "png", pytest.param("pdf", marks=pytest.mark.slow)])
def test_the_same_plan_is_the_same_file(kind: Tint) -> None:
    one, other = (paper.to_bytes(draw_plan(*solved("hallway_rig", "box fan at 1 m")), kind) for _ in range(2))
    assert one == other
    assert len(one) > 10_000


def test_pictures_hold_no_date_and_ask_no_other_host() -> None:
    text = paper.to_bytes(draw_plan(*solved("hallway_rig", "box fan at 1 m")), "svg").decode()
    root = ElementTree.fromstring(text)
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert "date" not in text.lower()
    hosts = {
        v for e in root.iter() for k, v in e.attrib.items() if k.endswith(("href", "src")) and not v.startswith("#")
    }
    assert hosts == set()


def test_size_of_the_file_is_the_size_of_the_page() -> None:
    figure = draw_plan(*solved("hallway_rig", "box fan at 1 m"))
    root = ElementTree.fromstring(paper.to_bytes(figure, "svg"))
    assert float(root.attrib["width"].removesuffix("pt")) == pytest.approx(72.0 * figure.get_figwidth(), abs=0.01)


def test_two_pictures_on_a_page_share_no_id() -> None:
    figure = draw_plan(*solved("hallway_rig", "box fan at 1 m"))
    ids = []
    for key in ("first", "second"):
        markup = paper.as_markup(figure, key=key, title="A <title> & more", description="What it shows")
        root = ElementTree.fromstring(markup)
        ids.append({e.attrib["id"] for e in root.iter() if "id" in e.attrib})
        uses = [v for e in root.iter() for k, v in e.attrib.items() if k.endswith("href")]
        assert uses
        assert all(use.removeprefix("#") in ids[-1] for use in uses)
        assert "<style" not in markup
        assert root[0].text == "A <title> & more"
    assert not ids[0] & ids[1]


@pytest.mark.parametrize("name", ["plan.gif", "plan", "plan.html"])
def test_another_ending_is_an_error_in_the_input(name: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"\.svg, \.png or \.pdf"):
        paper.format_of(tmp_path / name)


def test_a_folder_that_does_not_exist_is_an_error_in_the_input(tmp_path: Path) -> None:
    figure = paper.new_figure(10.0, 10.0)
    with pytest.raises(InputError, match="there is no folder"):
        paper.save(figure, tmp_path / "nowhere" / "plan.svg")


@pytest.mark.parametrize(("library", "action"), [("matplotlib", "plot"), ("jinja2", "page")])
def test_a_missing_library_comes_with_the_command_that_installs_it(
    library: str, action: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = builtins.__import__

    def without(name: str, *args: Any, **kwargs: Any) -> Any:
        if name.partition(".")[0] == library:
            raise ImportError(name)
        return real(name, *args, **kwargs)

    monkeypatch.setattr(builtins, "__import__", without)
    if action == "plot":
        draw = paper.plotting
    else:
        from ventplan.show.report import report_page

        draw = partial(report_page, None)
    with pytest.raises(InputError, match=r"pip install 'ventplan\[draw\]'"):
        draw()


def test_nothing_is_imported_for_pictures_until_one_is_drawn() -> None:
    code = (
        "import sys\n"
        "import ventplan.show.plan, ventplan.show.charts, ventplan.show.charts_measure, ventplan.show.report, "
        "ventplan.show.report_data, ventplan.cli.app\n"
        "print([m for m in ('matplotlib', 'jinja2', 'PIL') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"

"""The command: it prints the address, answers there, and stops when it is told to."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import urllib.request
from pathlib import Path

import pytest

from tests.live.conftest import HOUSE
from ventplan.errors import InputError
from ventplan.live.server import KEY_HEADER, serve

RUN = "import sys; from pathlib import Path; from ventplan.cli.house import live; live(Path(sys.argv[1]), no_open=True)"


@pytest.mark.slow
def test_the_printed_address_answers_until_the_program_is_stopped(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE, "utf-8")
    program = subprocess.Popen([sys.executable, "-u", "-c", RUN, str(path)], stdout=subprocess.PIPE, text=True)
    try:
        assert program.stdout is not None
        assert program.stdout.readline() == "The plan of house.yaml is at\n"
        address = program.stdout.readline().strip()
        origin, key = address.split("/#key=")
        headers = {KEY_HEADER: key, "Origin": origin}
        request = urllib.request.Request(f"{origin}/api/page", b"{}", headers, method="POST")
        with urllib.request.urlopen(request, timeout=20) as response:
            assert json.load(response)["house"]["name"] == "Page house"
    finally:
        program.send_signal(signal.SIGINT)
        assert program.wait(10) in (0, -signal.SIGINT, 130)
    assert path.read_text("utf-8") == HOUSE


def test_a_scenario_that_the_house_does_not_have_is_named_with_those_it_has(tmp_path: Path) -> None:
    path = tmp_path / "house.yaml"
    path.write_text(HOUSE, "utf-8")
    with pytest.raises(InputError, match="'evening', 'shut up'"):
        serve(path, scenario="morning", open_page=False)


def test_without_its_packages_the_command_says_what_to_install(tmp_path: Path) -> None:
    script = (
        "import sys; sys.modules['starlette'] = sys.modules['uvicorn'] = None\n"
        f"sys.argv = ['ventplan', 'live', {str(tmp_path / 'house.yaml')!r}, '--no-open']\n"
        "from ventplan.cli import main; main()"
    )
    ended = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=60)
    assert "pip install 'ventplan[live]'" in ended.stdout + ended.stderr
    assert "Traceback" not in ended.stderr

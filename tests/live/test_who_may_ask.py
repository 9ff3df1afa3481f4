"""The page's server answers this machine and this page only."""

from __future__ import annotations

import http.client
import json
import socket
from typing import Any

import pytest

from tests.live.conftest import KEY
from ventplan.errors import InputError
from ventplan.live.server import KEY_HEADER, LOOPBACK, listening, new_key, usual_port


def ask(
    served: Any, path: str = "/api/page", method: str = "POST", **changed: str | None
) -> tuple[int, dict[str, str]]:
    headers = {"Host": f"127.0.0.1:{served.port}", "Origin": served.origin, KEY_HEADER: KEY}
    headers |= {k.replace("_", "-"): v for k, v in changed.items() if v is not None}
    for name in [k for k, v in changed.items() if v is None]:
        headers.pop(name.replace("_", "-"))
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    connection.putrequest(method, path, skip_host=True)
    body = b"{}" if method == "POST" else b""
    for name, value in {**headers, "Content-Length": str(len(body))}.items():
        connection.putheader(name, value)
    connection.endheaders(body)
    response = connection.getresponse()
    response.read()
    return response.status, {k.lower(): v for k, v in response.getheaders()}


def test_the_page_itself_may_ask(served: Any) -> None:
    assert ask(served)[0] == 200


@pytest.mark.parametrize(
    "changed",
    [
        {"Host": "house.example"},
        {"Host": "127.0.0.1.house.example:80"},
        {"Origin": "http://house.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": None},
        {"x_ventplan_key": "guessed"},
        {"x_ventplan_key": ""},
        {"Sec_Fetch_Site": "cross-site"},
        {"Sec_Fetch_Site": "same-site"},
    ],
)
def test_other_pages_are_refused(served: Any, changed: dict[str, str | None]) -> None:
    assert ask(served, **changed)[0] == 403


def raw(served: Any, head: str, *parts: bytes) -> bytes:
    """What is answered to a request that is written by hand."""
    own = f"Host: 127.0.0.1:{served.port}\r\nOrigin: {served.origin}\r\n{KEY_HEADER}: {KEY}\r\n"
    with socket.create_connection(("127.0.0.1", served.port), timeout=10) as connection:
        answer = b""
        try:
            connection.sendall(f"POST /api/page HTTP/1.1\r\n{own}{head}\r\n".encode())
            for part in parts:
                connection.sendall(part)
            answer = connection.recv(4096)
        except ConnectionError:
            pass
    return answer


def test_a_second_origin_does_not_hide_behind_the_first(served: Any) -> None:
    assert b" 200 " in raw(served, "Content-Length: 2\r\n", b"{}")
    assert b" 403 " in raw(served, "Content-Length: 2\r\nOrigin: http://house.example\r\n", b"{}")


def test_an_endless_request_is_refused_without_a_declared_length(served: Any) -> None:
    piece = b"100000\r\n" + b" " * 0x100000 + b"\r\n"
    answer = raw(served, "Transfer-Encoding: chunked\r\n", *[piece] * 8, b"2\r\n{}\r\n0\r\n\r\n")
    assert b" 200 " not in answer
    assert b" 200 " in raw(served, "Transfer-Encoding: chunked\r\n", b"2\r\n{}\r\n0\r\n\r\n")


def test_deeply_nested_requests_are_refused_with_a_reason(served: Any) -> None:
    deep = b'{"a":' * 100_000
    assert b" 422 " in raw(served, f"Content-Length: {len(deep)}\r\n", deep)


def test_a_foreign_host_does_not_even_get_the_empty_page(served: Any) -> None:
    assert ask(served, "/", "GET", Host="house.example")[0] == 403
    assert ask(served, "/", "GET")[0] == 200


def test_nothing_changes_by_a_link_or_an_image(served: Any) -> None:
    assert ask(served, "/api/save", "GET")[0] == 405


@pytest.mark.parametrize("path", ["/", "/static/main.js", "/colours.css"])
def test_every_answer_isolates_the_page(served: Any, path: str) -> None:
    status, headers = ask(served, path, "GET")
    assert status == 200
    assert "default-src 'self'" in headers["content-security-policy"]
    assert "frame-ancestors 'none'" in headers["content-security-policy"]
    assert headers["referrer-policy"] == "no-referrer"
    assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize("path", ["/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2f..%2fpyproject.toml"])
def test_no_file_beside_the_page_can_be_read(served: Any, path: str) -> None:
    assert ask(served, path, "GET")[0] == 404


def test_keys_are_long_and_never_the_same() -> None:
    assert len({new_key() for _ in range(50)}) == 50
    assert len(new_key()) >= 32


def test_the_server_listens_on_the_loopback_address_only(tmp_path: Any) -> None:
    taken = listening(tmp_path / "house.yaml", None)
    assert taken.getsockname()[0] == LOOPBACK == "127.0.0.1"
    taken.close()


def test_a_house_always_has_the_same_port_so_that_the_browser_finds_its_draft(tmp_path: Any) -> None:
    path = tmp_path / "house.yaml"
    assert usual_port(path) == usual_port(tmp_path / "." / "house.yaml")
    first = listening(path, None)
    second = listening(path, None)
    assert first.getsockname()[1] != second.getsockname()[1], "a second program takes another one"
    with pytest.raises(InputError, match="is taken"):
        listening(path, first.getsockname()[1])
    first.close()
    second.close()


@pytest.mark.parametrize(
    "body",
    [
        [],
        {},
        {"scenario": 1},
        {"scenario": "evening", "state": {"fans": 3}},
        {"scenario": "evening", "state": {"shares": {"west window": "x"}}},
    ],
)
def test_malformed_requests_are_refused_with_a_reason(served: Any, body: Any) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    headers = {"Origin": served.origin, KEY_HEADER: KEY, "Content-Type": "application/json"}
    for name in ("solve", "keep", "edit", "readings"):
        connection.request("POST", f"/api/{name}", json.dumps(body), headers)
        response = connection.getresponse()
        answer = json.loads(response.read())
        assert response.status in (200, 400, 409, 422), answer
        assert name == "solve" or "error" in answer


@pytest.mark.parametrize("body", [b'{"units": "\xff\xfe"}', b'{"units": "\\ud800"}', b"\x00\x01", b"{", b"[1]"])
@pytest.mark.parametrize("name", ["page", "edit", "place"])
def test_requests_that_are_not_text_or_not_a_map_are_client_errors(served: Any, name: str, body: bytes) -> None:
    connection = http.client.HTTPConnection("127.0.0.1", served.port, timeout=10)
    headers = {"Origin": served.origin, KEY_HEADER: KEY}
    connection.request("POST", f"/api/{name}", body=body, headers=headers)
    response = connection.getresponse()
    assert 400 <= response.status < 500
    assert json.loads(response.read())["error"]

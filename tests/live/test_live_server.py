"""The live server against everybody but its own page, from a plain socket."""

import http.client
import json
import os
import random
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from live_attacks import KINDS, house, request, sent, tried
from paths import ROOT

from aiming.live.server import LARGEST_BODY, Closed, Page

TRIES = int(os.environ.get("LIVE_TRIES", "600"))
SCRIPT, STYLE = "1;", "p { }"


@dataclass
class Heard:
    """What got through to the session."""

    names: list[tuple[str, dict[str, Any]]]

    def answer(self, name: str, body: dict[str, Any]) -> tuple[int, bytes]:
        self.names.append((name, body))
        return 200, b'{"ok": true}'


@pytest.fixture
def served() -> Iterator[tuple[Closed, Heard]]:
    heard = Heard([])
    server = Closed(Page("<p>page</p>", script=SCRIPT, style=STYLE), heard.answer)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield server, heard
    server.shutdown()
    thread.join()
    server.server_close()


def asked(
    server: Closed,
    *,
    method: str = "POST",
    path: str = "/change",
    body: bytes = b"{}",
    **headers: str | None,
) -> tuple[int, bytes, dict[str, str]]:
    """A request as the page makes it, with these headers put otherwise; None leaves one out."""
    usual: dict[str, str | None] = {
        "Host": server.host,
        "Origin": f"http://{server.host}",
        "Content-Type": "application/json",
        "X-Aiming-Key": server.key,
        "Content-Length": str(len(body)),
    }
    usual |= {name.replace("_", "-"): of for name, of in headers.items()}
    line = http.client.HTTPConnection("127.0.0.1", server.server_address[1], timeout=20)
    try:
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        for name, value in usual.items():
            if value is not None:
                line.putheader(name, value)
        line.endheaders(body)
        reply = line.getresponse()
        return reply.status, reply.read(), dict(reply.getheaders())
    finally:
        line.close()


def test_its_own_page_is_answered(served: tuple[Closed, Heard]) -> None:
    server, heard = served
    status, body, _ = asked(server, body=b'{"page": "a"}')
    assert (status, json.loads(body)) == (200, {"ok": True})
    assert heard.names == [("change", {"page": "a"})]


def test_it_listens_on_the_loopback_alone(served: tuple[Closed, Heard]) -> None:
    assert served[0].server_address[0] == "127.0.0.1"


def test_the_key_is_long_new_and_in_the_fragment(served: tuple[Closed, Heard]) -> None:
    server, heard = served
    other = Closed(server.page, heard.answer)
    other.server_close()
    assert len(server.key) >= 40
    assert server.key != other.key
    before, fragment = server.address.split("#")
    assert fragment == server.key
    assert server.key not in before


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"X_Aiming_Key": None}, 403),
        ({"X_Aiming_Key": "x" * 43}, 403),
        ({"X_Aiming_Key": "ключ"}, 403),
        ({"Host": "localhost"}, 421),
        ({"Host": "evil.example"}, 421),
        ({"Host": "127.0.0.1"}, 421),
        ({"Host": None}, 421),
        ({"Origin": "http://evil.example"}, 403),
        ({"Origin": "null"}, 403),
        ({"Origin": "http://127.0.0.1:1"}, 403),
        ({"Content_Type": "text/plain"}, 415),
        ({"Content_Type": "application/x-www-form-urlencoded"}, 415),
        ({"Content_Length": None}, 411),
        ({"Content_Length": "-1"}, 411),
        ({"Content_Length": "0x2"}, 411),
        ({"Content_Length": str(LARGEST_BODY + 1)}, 413),
        ({"Content_Length": "9" * 30}, 413),
        ({"Transfer_Encoding": "chunked"}, 400),
    ],
)
def test_others_are_refused(
    served: tuple[Closed, Heard], headers: dict[str, str | None], status: int
) -> None:
    server, heard = served
    values = {
        name: None if of is None else of.encode().decode("latin-1") for name, of in headers.items()
    }
    found, body, _ = asked(server, **values)
    assert found == status
    assert heard.names == []
    assert server.key.encode() not in body


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"[]",
        b"1",
        b"{",
        b"\xff\xfe",
        b'{"a": NaN}',
        b'{"a": Infinity}',
        b'{"a":' * 50 + b"1" + b"}" * 50,
        b"[" * 100_000,
        b'{"a": ' + b"9" * 5000 + b"}",
    ],
)
def test_bodies_that_are_no_plain_table_are_refused(
    served: tuple[Closed, Heard], body: bytes
) -> None:
    server, heard = served
    assert asked(server, body=body)[0] == 400
    assert heard.names == []


def test_the_page_holds_no_key_and_may_load_nothing(served: tuple[Closed, Heard]) -> None:
    server, _ = served
    status, body, headers = asked(server, method="GET", path="/", X_Aiming_Key=None)
    assert status == 200
    assert server.key.encode() not in body
    policy = headers["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "frame-ancestors 'none'" in policy
    assert headers["Cache-Control"] == "no-store"
    assert "Set-Cookie" not in headers
    assert "Access-Control-Allow-Origin" not in headers


@pytest.mark.parametrize("path", ["/x", "/./", "/../etc/passwd", "/%2e%2e/etc/passwd", "http://x/"])
def test_no_path_is_a_file(served: tuple[Closed, Heard], path: str) -> None:
    server, _ = served
    assert asked(server, method="GET", path=path)[0] == 404


@pytest.mark.parametrize("method", ["PUT", "DELETE", "OPTIONS", "HEAD", "TRACE", "CONNECT", "X"])
def test_other_methods_get_nothing(served: tuple[Closed, Heard], method: str) -> None:
    server, heard = served
    assert asked(server, method=method)[0] in (400, 501)
    assert heard.names == []


def test_headers_given_twice_are_refused(served: tuple[Closed, Heard]) -> None:
    server, heard = served
    port = server.server_address[1]
    text = (
        f"POST /change HTTP/1.1\r\nHost: {server.host}\r\nHost: evil.example\r\n"
        f"X-Aiming-Key: {server.key}\r\nContent-Type: application/json\r\n"
        "Content-Length: 2\r\n\r\n{}"
    )
    assert b"421" in sent(port, text.encode()).split(b"\r\n")[0]
    assert heard.names == []


def test_of_many_attacks_none_is_accepted(tmp_path: Path) -> None:
    """By the hundred (LIVE_TRIES for more; bench_live.py runs 10,000)."""
    path = tmp_path / "quarry.toml"
    path.write_bytes((ROOT / "scenarios" / "quarry.toml").read_bytes())
    before = path.read_bytes()
    with house(path) as (server, live):
        outcome = tried(server, live, times=TRIES, chance=random.Random(7))
        assert outcome.accepted == []
        assert outcome.stumbled == []
        assert set(outcome.tries) == {kind.__name__.strip("_") for kind in KINDS}
        # Its own page is answered still.
        good = request(server, b'{"page": ""}', path="/begin")
        assert sent(server.server_address[1], good).split(b"\r\n")[0].endswith(b"200 OK")
    assert path.read_bytes() == before


def test_it_ends_when_the_page_is_gone() -> None:
    heard = Heard([])
    server = Closed(Page("", script="", style=""), heard.answer)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    assert asked(server, path="/leave")[0] == 200
    server._ends_at -= 10.0
    thread.join(timeout=20)
    server.server_close()
    assert not thread.is_alive()

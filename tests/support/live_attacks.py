"""What others might send to the live server: five kinds, drawn by chance, none to be accepted.

Run against a real house: `tried` counts what was accepted, and what made the server stumble.
"""

import json
import random
import socket
import threading
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from aiming.live.app import Live, Start
from aiming.live.server import LARGEST_BODY, Closed, Page

SECRET = "/etc/passwd"
FOREIGN = ("evil.example", "localhost", "127.0.0.1", "[::1]", "0.0.0.0", "127.0.0.1.evil.example")
UNLISTED = (
    "speaker.main.pattern.file",
    "speaker.main.pattern",
    "speaker.main",
    "speaker.main.name",
    "speaker",
    'seating."lower tier"',
    'seating."lower tier".drawing.file',
    'seating."lower tier".survey',
    'surface."back wall".drawing',
    "schema",
    "variant",
    "drawing_units",
    "drawing_origin",
    "cautions",
    "aim",
    "__class__",
    "",
)


@dataclass
class Outcome:
    """accepted: what got through; stumbled: what ended in a fault of the server's own."""

    tries: Counter[str] = field(default_factory=Counter)
    accepted: list[tuple[str, bytes]] = field(default_factory=list)
    stumbled: list[tuple[str, bytes]] = field(default_factory=list)


@contextmanager
def house(path: Path) -> Iterator[tuple[Closed, Live]]:
    """A server with this file open, as `aiming live FILE` has it."""
    live = Live([], first=Start(path.name, path))
    server = Closed(Page("<p>page</p>", script="", style=""), live.answer)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    try:
        yield server, live
    finally:
        server.shutdown()
        thread.join()
        live.close()
        server.server_close()


def tried(server: Closed, live: Live, *, times: int, chance: random.Random) -> Outcome:
    """So many attacks, a kind after the other."""
    outcome = Outcome()
    page = _begun(live)
    before = json.dumps(live.document)
    for number in range(times):
        kind = KINDS[number % len(KINDS)]
        raw = kind(server, page, number + 1, chance)
        reply = sent(server.server_address[1], raw)
        name = kind.__name__.strip("_")
        outcome.tries[name] += 1
        head, _, body = reply.partition(b"\r\n\r\n")
        if b" 500 " in head.split(b"\r\n")[0] or server.key.encode() in reply or b"root:" in reply:
            outcome.stumbled.append((name, raw))
        elif b" 200 " in head.split(b"\r\n")[0] and b'"refused"' not in body:
            outcome.accepted.append((name, raw))
    if json.dumps(live.document) != before:
        outcome.accepted.append(("the document", b""))
    return outcome


def _begun(live: Live) -> str:
    _, told = live.answer("begin", {})
    return str(json.loads(told)["page"])


def sent(port: int, raw: bytes) -> bytes:
    """What comes back for these bytes."""
    with socket.create_connection(("127.0.0.1", port), timeout=20) as line:
        found = b""
        try:
            line.sendall(raw)
            line.shutdown(socket.SHUT_WR)
            while part := line.recv(65536):
                found += part
        except (ConnectionResetError, BrokenPipeError):
            pass
        return found


def request(server: Closed, body: bytes, *, path: str = "/change", **headers: str) -> bytes:
    """As the page asks it, with these headers put otherwise."""
    usual = {
        "Host": server.host,
        "Origin": f"http://{server.host}",
        "X-Aiming-Key": server.key,
        "Content-Type": "application/json",
        "Content-Length": str(len(body)),
        "Connection": "close",
    } | {name.replace("_", "-"): of for name, of in headers.items()}
    lines = [f"POST {path} HTTP/1.1", *(f"{name}: {of}" for name, of in usual.items() if of)]
    return "\r\n".join([*lines, "", ""]).encode() + body


def _change(page: str, number: int, edit: dict[str, Any]) -> bytes:
    return json.dumps({"page": page, "number": number, "edits": [edit]}).encode()


def _title(page: str, number: int) -> bytes:
    """Something that would be accepted from the page itself."""
    return _change(page, number, {"edit": "set", "key": "title", "value": "Theirs"})


def _unlisted(server: Closed, page: str, number: int, chance: random.Random) -> bytes:
    """From the page itself, a key that it may not change."""
    value = chance.choice([SECRET, {"file": SECRET}, 1.0, [SECRET], "../../etc/passwd"])
    kind = chance.choice(["set", "set", "set", "move point", "move place", "move line"])
    key = chance.choice(UNLISTED)
    if chance.random() < 0.3:
        key = "".join(chance.choices('abz."_7 \\/é\0', k=chance.randrange(40)))
    edit = {"edit": kind, "key": key, "value": value, "point": 0, "to": [0, 0]}
    return request(server, _change(page, number, edit))


def _foreign_host(server: Closed, page: str, number: int, chance: random.Random) -> bytes:
    port = chance.choice([f":{server.server_address[1]}", ":80", ""])
    host = chance.choice(FOREIGN) + port
    host = "evil.example" if host == server.host else host
    return request(server, _title(page, number), Host=host)


def _foreign_origin(server: Closed, page: str, number: int, chance: random.Random) -> bytes:
    origin = chance.choice(["null", "file://", f"https://{server.host}", "http://127.0.0.1:1"])
    if chance.random() < 0.5:
        origin = f"http://{chance.choice(FOREIGN)}"
    return request(server, _title(page, number), Origin=origin)


def _without_the_key(server: Closed, page: str, number: int, chance: random.Random) -> bytes:
    length = chance.choice([0, 1, 43, 43, 43, 2000])
    key = "".join(chance.choices("abcXYZ019-_", k=length))
    if chance.random() < 0.3:
        key = server.key[: chance.randrange(len(server.key))]
    return request(server, _title(page, number), X_Aiming_Key=key)


def _oversized(server: Closed, page: str, number: int, chance: random.Random) -> bytes:
    if chance.random() < 0.5:
        length = chance.choice([LARGEST_BODY + 1, 10**9, 10**30])
        return request(server, b"{}", Content_Length=str(length))
    long = chance.choice([{"value": "x" * 5000}, {"value": [1] * 5000}, {"key": "y" * 5000}])
    edit = {"edit": "set", "key": "speaker.main.gain_db", "value": 1.0} | long
    return request(server, _change(page, number, edit))


def _broken(server: Closed, page: str, number: int, chance: random.Random) -> bytes:
    """A body or a request with bytes torn out, put in or left off."""
    body = _title(page, number)
    if chance.random() < 0.5:
        at = chance.randrange(len(body) - 1)
        torn = body[:at] + bytes(chance.choices(b'{[",:\x00\xff', k=2))
        return request(server, torn)
    raw = bytearray(request(server, body, X_Aiming_Key="x" * 43))
    for _ in range(1 + chance.randrange(4)):
        at = chance.randrange(len(raw))
        raw[at : at + chance.randrange(3)] = bytes(chance.choices(range(256), k=2))
    return bytes(raw[: chance.choice([len(raw), chance.randrange(1, len(raw))])])


KINDS = (_unlisted, _foreign_host, _foreign_origin, _without_the_key, _oversized, _broken)

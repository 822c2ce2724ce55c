"""One page for one person: a server on the loopback that is closed to everybody else.

What keeps others out, each alone enough against somebody:

- it listens on 127.0.0.1 only, at a port that the system picks;
- every question carries a key that is made anew at each start.  It travels in the address's
  fragment, which no browser sends, and then in a header, so it stands in no request line, no log
  and no cookie (cookies are shared between ports);
- the Host header must be this very address, so that a foreign name that resolves to 127.0.0.1
  gets nothing; where there is an Origin it must be ours;
- bodies are JSON of limited size and depth, read in limited time;
- the page itself may load nothing from anywhere (content security policy).
"""

import json
import secrets
import socket
import threading
import time
from base64 import b64encode
from collections.abc import Callable
from hashlib import sha256
from hmac import compare_digest
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

LARGEST_BODY = 256 * 1024
"""Bytes of a question; the largest that the page asks is a few kilobytes."""
DEEPEST_BODY = 12
MOST_AT_ONCE = 32
"""Connections served at a time; a browser opens six."""
PATIENCE_S = 75.0
"""An idle connection is dropped after this."""
SILENCE_S, GONE_S = 180.0, 10.0
"""The server ends when no page has spoken for so long, or so long after the page said goodbye:
time enough to load it again."""
LOOPBACK = "127.0.0.1"

Answerer = Callable[[str, dict[str, Any]], tuple[int, bytes]]
"""Takes the question's name and its body; gives a status and JSON."""


class Refused(Exception):
    """A request that is not answered; the text says why, and repeats nothing of the request."""

    def __init__(self, status: HTTPStatus, why: str) -> None:
        super().__init__(why)
        self.status = status


class Closed(ThreadingHTTPServer):
    """The server; key: what the page must show; page: what it is sent."""

    daemon_threads = True
    allow_reuse_address = False

    def __init__(self, page: "Page", answer: Answerer, *, port: int = 0) -> None:
        super().__init__((LOOPBACK, port), _Handler)
        self.page, self.answer = page, answer
        self.key = secrets.token_urlsafe(32)
        self.host = f"{LOOPBACK}:{self.server_address[1]}"
        self._room = threading.BoundedSemaphore(MOST_AT_ONCE)
        self._ends_at = time.monotonic() + SILENCE_S
        self.forget: Callable[[], None] | None = None
        """What is to be taken away once the page has spoken."""

    @property
    def address(self) -> str:
        """What to open; the key is in the fragment."""
        return f"http://{self.host}/#{self.key}"

    def heard(self) -> None:
        """Somebody with the key has spoken."""
        forget, self.forget = self.forget, None
        if forget is not None:
            forget()
        self._ends_at = time.monotonic() + SILENCE_S

    def left(self) -> None:
        """The page said goodbye; it may be loading again."""
        self._ends_at = min(self._ends_at, time.monotonic() + GONE_S)

    def service_actions(self) -> None:
        """Called between requests: whether anybody is still there."""
        if time.monotonic() > self._ends_at:
            # From another thread, since shutdown waits for the loop that calls this.
            threading.Thread(target=self.shutdown, daemon=True).start()
            self._ends_at = float("inf")

    def process_request(self, request: Any, client_address: Any) -> None:
        """At most MOST_AT_ONCE at a time; more are dropped, not queued."""
        if not self._room.acquire(blocking=False):
            self.shutdown_request(request)
            return
        try:
            super().process_request(request, client_address)
        except BaseException:
            self._room.release()
            raise

    def process_request_thread(self, request: Any, client_address: Any) -> None:
        """One connection, in its own thread."""
        try:
            super().process_request_thread(request, client_address)
        finally:
            self._room.release()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A connection that breaks is no news; bugs are answered with 500 by the handler."""


class Page:
    """The one page, whole: its script and style stand in it, and their hashes in its policy."""

    def __init__(self, html: str, *, script: str, style: str) -> None:
        self.body = html.encode()
        self.policy = "; ".join(
            (
                "default-src 'none'",
                f"script-src '{_hash(script)}'",
                f"style-src '{_hash(style)}'",
                "connect-src 'self'",
                "img-src data:",
                "base-uri 'none'",
                "form-action 'none'",
                "frame-ancestors 'none'",
            )
        )


def _hash(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"


class _Handler(BaseHTTPRequestHandler):
    """Answers GET / with the page, and POST /NAME with what the session says."""

    protocol_version = "HTTP/1.1"
    server_version, sys_version = "aiming", ""
    timeout = PATIENCE_S
    server: Closed

    def setup(self) -> None:
        # Without this every small answer waits some 40 ms for the next acknowledgement.
        self.request.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        super().setup()

    def do_GET(self) -> None:
        """The page; it says nothing about the house."""
        self._guarded(self._page)

    def do_POST(self) -> None:
        """A question of the page."""
        self._guarded(self._question)

    def _guarded(self, answered: Callable[[], None]) -> None:
        try:
            if self.headers.get_all("Host") != [self.server.host]:
                raise Refused(HTTPStatus.MISDIRECTED_REQUEST, "not this host")
            answered()
        except Refused as refused:
            self.close_connection = True
            self._send(refused.status, json.dumps({"refused": str(refused)}).encode())
        except (ConnectionError, TimeoutError):
            self.close_connection = True
        except Exception:
            self.close_connection = True
            self._send(HTTPStatus.INTERNAL_SERVER_ERROR, b'{"refused": "a fault of this program"}')
            raise

    def _page(self) -> None:
        if self.path != "/":
            raise Refused(HTTPStatus.NOT_FOUND, "nothing here")
        self._send(HTTPStatus.OK, self.server.page.body, kind="text/html; charset=utf-8")

    def _question(self) -> None:
        origin = self.headers.get_all("Origin") or [f"http://{self.server.host}"]
        if origin != [f"http://{self.server.host}"]:
            raise Refused(HTTPStatus.FORBIDDEN, "not from this page")
        shown = self.headers.get("X-Aiming-Key") or ""
        if not compare_digest(shown.encode("utf-8", "replace"), self.server.key.encode()):
            raise Refused(HTTPStatus.FORBIDDEN, "no key")
        if self.headers.get_content_type() != "application/json":
            raise Refused(HTTPStatus.UNSUPPORTED_MEDIA_TYPE, "JSON only")
        body = self._body()
        self.server.heard()
        name = self.path.removeprefix("/")
        if name == "leave":
            self.server.left()
        status, reply = self.server.answer(name, body)
        self._send(HTTPStatus(status), reply)

    def _body(self) -> dict[str, Any]:
        lengths = self.headers.get_all("Content-Length") or []
        if len(lengths) != 1 or not lengths[0].isascii() or not lengths[0].isdigit():
            raise Refused(HTTPStatus.LENGTH_REQUIRED, "a length is needed")
        if self.headers.get("Transfer-Encoding") is not None:
            raise Refused(HTTPStatus.BAD_REQUEST, "sent whole, not in pieces")
        if len(lengths[0]) > 9 or int(lengths[0]) > LARGEST_BODY:
            raise Refused(HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "too large")
        raw = self.rfile.read(int(lengths[0]))
        if len(raw) != int(lengths[0]):
            raise Refused(HTTPStatus.BAD_REQUEST, "cut short")
        try:
            body = json.loads(raw, parse_constant=_no_constant)
        except (ValueError, RecursionError):
            raise Refused(HTTPStatus.BAD_REQUEST, "no JSON") from None
        if not isinstance(body, dict) or not _shallow(body, DEEPEST_BODY):
            raise Refused(HTTPStatus.BAD_REQUEST, "a table of plain values")
        return body

    def _send(self, status: HTTPStatus, body: bytes, *, kind: str = "application/json") -> None:
        self.send_response(status)
        self.send_header("Content-Type", kind)
        self.send_header("Content-Length", str(len(body)))
        self.send_header("Content-Security-Policy", self.server.page.policy)
        self.send_header("X-Content-Type-Options", "nosniff")
        self.send_header("Referrer-Policy", "no-referrer")
        self.send_header("Cross-Origin-Resource-Policy", "same-origin")
        self.send_header("Cross-Origin-Opener-Policy", "same-origin")
        self.send_header("Cache-Control", "no-store")
        if self.close_connection:
            self.send_header("Connection", "close")
        self.end_headers()
        self.wfile.write(body)

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        """Requests that are no HTTP: nothing of them is repeated."""
        self.close_connection = True
        if not hasattr(self, "headers"):
            self.requestline, self.request_version, self.command = "", "HTTP/1.0", ""
        self._send(HTTPStatus(code), b'{"refused": "no request of this page"}')

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing is logged: a terminal is no place for addresses."""


def _no_constant(_name: str) -> float:
    raise ValueError


def _shallow(value: Any, deepest: int) -> bool:
    if deepest == 0:
        return False
    if isinstance(value, dict):
        return all(_shallow(one, deepest - 1) for one in value.values())
    if isinstance(value, list):
        return all(_shallow(one, deepest - 1) for one in value)
    return True

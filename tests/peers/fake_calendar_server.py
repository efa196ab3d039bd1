"""A small HTTP server on this machine that answers as a test wants, and notes what it gets."""

from __future__ import annotations

import contextlib
import ssl
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING, NamedTuple
from xml.sax.saxutils import escape

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path


class Asked(NamedTuple):
    """A request that came in."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes


class Answer(NamedTuple):
    """What goes back."""

    status: int
    body: bytes = b""
    headers: tuple[tuple[str, str], ...] = (("Content-Type", "application/xml"),)


class Wire(NamedTuple):
    """What goes back byte by byte as it stands, whatever HTTP says; then the line is closed."""

    pieces: Iterable[bytes]
    pause_s: float = 0


class Fake:
    """What a test sees of its server."""

    def __init__(self, answer: Callable[[Asked], Answer | Wire], port: int) -> None:
        self.answer = answer
        self.url = f"http://127.0.0.1:{port}/"
        self.asked: list[Asked] = []

    def methods(self) -> list[str]:
        """Return the methods of the requests that came in."""
        return [asked.method for asked in self.asked]


@contextlib.contextmanager
def fake_server(
    answer: Callable[[Asked], Answer | Wire], certificate: tuple[Path, Path] | None = None
) -> Iterator[Fake]:
    """Run a server until the block ends; with files of a certificate and its key, by https."""

    class Handler(BaseHTTPRequestHandler):
        def handle_one_request(self) -> None:
            self.raw_requestline = self.rfile.readline(65537)
            if not self.raw_requestline or not self.parse_request():
                self.close_connection = True
                return
            body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
            asked = Asked(self.command, self.path, dict(self.headers), body)
            fake.asked.append(asked)
            given = fake.answer(asked)
            if isinstance(given, Wire):
                self.close_connection = True
                for piece in given.pieces:
                    self.wfile.write(piece)
                    time.sleep(given.pause_s)
                return
            with contextlib.suppress(OSError):
                self.send_response(given.status)
                for name, value in given.headers:
                    self.send_header(name, value)
                self.send_header("Content-Length", str(len(given.body)))
                self.end_headers()
                self.wfile.write(given.body)

        def handle(self) -> None:
            with contextlib.suppress(OSError):
                super().handle()

        def log_message(self, *args: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    fake = Fake(answer, server.server_address[1])
    if certificate is not None:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.load_cert_chain(*certificate)
        server.socket = context.wrap_socket(server.socket, server_side=True)
        fake.url = fake.url.replace("http:", "https:")
    thread = threading.Thread(target=server.serve_forever, args=(0.02,))
    thread.start()
    try:
        yield fake
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def multistatus(*responses: str) -> Answer:
    """Return an answer of WebDAV (RFC 4918, 13)."""
    body = (
        '<?xml version="1.0"?><d:multistatus xmlns:d="DAV:" '
        f'xmlns:c="urn:ietf:params:xml:ns:caldav">{"".join(responses)}</d:multistatus>'
    )
    return Answer(207, body.encode())


def calendar_at(path: str) -> str:
    """Return the properties of a calendar."""
    return (
        f"<d:response><d:href>{path}</d:href><d:propstat><d:prop><d:resourcetype><d:collection/>"
        "<c:calendar/></d:resourcetype></d:prop><d:status>HTTP/1.1 200 OK</d:status></d:propstat>"
        "</d:response>"
    )


def entry_at(path: str, etag: str, content: bytes) -> str:
    """Return an entry of a calendar."""
    return (
        f"<d:response><d:href>{path}</d:href><d:propstat><d:prop>"
        f"<d:getetag>{escape(etag)}</d:getetag>"
        f"<c:calendar-data>{escape(content.decode())}</c:calendar-data></d:prop>"
        "<d:status>HTTP/1.1 200 OK</d:status></d:propstat></d:response>"
    )

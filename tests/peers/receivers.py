"""Who is told of alarms: a web service and a mail server on this machine, that can fail."""

from __future__ import annotations

import contextlib
import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import TYPE_CHECKING

from aiosmtpd.controller import Controller

if TYPE_CHECKING:
    from collections.abc import Iterator


class Post(ThreadingHTTPServer):
    """Takes messages by HTTP, as apprise's json:// sends them, and counts who asks with GET."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.got: list[tuple[str, str]] = []
        self.at: list[str] = []
        self.asked: list[str] = []
        self.works = True
        self.hangs_s = 0.0

    @property
    def address(self) -> str:
        return f"json://127.0.0.1:{self.server_port}/"

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_port}/beat"

    @property
    def titles(self) -> list[str]:
        return [title for title, _ in self.got]


class _Handler(BaseHTTPRequestHandler):
    server: Post

    def do_POST(self) -> None:
        content = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        if self.server.hangs_s:
            time.sleep(self.server.hangs_s)
        if self.server.works:
            self.server.at.append(self.path.strip("/"))
            self.server.got.append((content["title"], content["message"]))
        self.send_response(200 if self.server.works else 500)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def do_GET(self) -> None:
        self.server.asked.append(self.path)
        self.send_response(200)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@contextlib.contextmanager
def running_post() -> Iterator[Post]:
    post = Post()
    threading.Thread(target=post.serve_forever, daemon=True).start()
    try:
        yield post
    finally:
        post.shutdown()
        post.server_close()


class Mails:
    """Takes mails."""

    def __init__(self) -> None:
        self.got: list[str] = []

    async def handle_DATA(self, _server, _session, envelope) -> str:  # noqa: N802 - their name
        self.got.append(envelope.content.decode())
        return "250 taken"


@contextlib.contextmanager
def running_mail(port: int) -> Iterator[Mails]:
    mails = Mails()
    controller = Controller(mails, hostname="127.0.0.1", port=port)
    controller.start()
    try:
        yield mails
    finally:
        controller.stop()

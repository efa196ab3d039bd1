"""The server itself: its socket, and the bounds within which anybody is listened to."""

from __future__ import annotations

import asyncio
import errno
import logging
import signal
import socket
import ssl
from collections import Counter
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import uvicorn
from uvicorn.protocols.http.h11_impl import H11Protocol

from daylatch.errors import HomeError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from starlette.types import ASGIApp

LONGEST_S = 20.0
"""How long a connection lasts at most, whatever it is used for."""
HEAD_S = 5.0
"""How long is waited for the whole head of a request: silence costs others a place no longer."""
MOST_CONNECTIONS = 64
MOST_OF_ONE = 8
"""How many connections there are at most, and how many from one address."""
_MOST_HEAD_BYTES = 16 * 1024
_HANDSHAKE_S = 5.0
_END_S = 5
_TICKS_A_MINUTE = 600


def listening_socket(address: str, port: int) -> socket.socket:
    """Return a socket that listens.

    Raises
    ------
    HomeError
        If another program listens there, or the address is none of this computer's.
    """
    family = socket.AF_INET6 if ":" in address else socket.AF_INET
    made = socket.socket(family, socket.SOCK_STREAM)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((address, port))
        made.listen(MOST_CONNECTIONS)
    except OSError as error:
        made.close()
        why = (error.strerror or str(error)).lower()
        remedy = "stop the program that does, or give another port under [home]"
        if error.errno == errno.EADDRNOTAVAIL:
            remedy = "this computer has no such address: give another under [home]"
        elif error.errno == errno.EACCES:
            remedy = "that port is for administrators: give one from 1024 on under [home]"
        raise HomeError(f"cannot listen at {address} port {port} ({why}): {remedy}") from error
    made.setblocking(False)
    return made


def tls_context(certificate: Path, key: Path) -> ssl.SSLContext:
    """Return what encrypts by a certificate.

    Raises
    ------
    HomeError
        If the files cannot be used together.
    """
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        # Without a password none is asked for.
        context.load_cert_chain(certificate, key, password=lambda: b"")
    except OSError as error:
        why = "they do not belong together, or are not written as PEM"
        if not isinstance(error, ssl.SSLError):
            why = (error.strerror or str(error)).lower()
        raise HomeError(
            f"{certificate} and {key}: cannot be used as certificate and key ({why}): look at "
            "certificate and key under [home]"
        ) from error
    return context


class Serving(uvicorn.Server):
    """A server on a socket that listens already.

    Parameters
    ----------
    app
        What answers.
    sock
        The socket.
    proxies
        Which addresses are believed when they say for whom they ask.
    tls
        What encrypts; None for nothing.
    each_minute
        Called about once a minute.
    """

    def __init__(
        self,
        app: ASGIApp,
        sock: socket.socket,
        *,
        proxies: Sequence[str] = (),
        tls: ssl.SSLContext | None = None,
        each_minute: Callable[[], None] = lambda: None,
    ) -> None:
        self.sock = sock
        self.each_minute = each_minute
        config = uvicorn.Config(
            app,
            http=_bounded(_Places(frozenset(proxies)), tls),
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            server_header=False,
            proxy_headers=bool(proxies),
            forwarded_allow_ips=list(proxies),
            h11_max_incomplete_event_size=_MOST_HEAD_BYTES,
            timeout_keep_alive=5,
            timeout_graceful_shutdown=_END_S,
            limit_concurrency=MOST_CONNECTIONS,
        )
        super().__init__(config)
        # It speaks of every stranger who sends what is no request.
        for name in ("uvicorn", "asyncio"):
            logging.getLogger(name).setLevel(logging.CRITICAL + 1)

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop at a signal, and leave it at that; the library would raise it once more."""

        def stop(*_: object) -> None:
            self.should_exit = True

        before = {one: signal.signal(one, stop) for one in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for one, handler in before.items():
                signal.signal(one, handler)

    async def on_tick(self, counter: int) -> bool:
        """Do what is due now and then; the library calls it ten times a second."""
        if counter % _TICKS_A_MINUTE == 0:
            self.each_minute()
        return await super().on_tick(counter)

    def run_until_stopped(self) -> None:
        """Answer until a signal says to stop."""
        with asyncio.Runner() as runner:
            runner.run(self.serve([self.sock]))


class _Places:
    """How many connections there are, in all and of each address.

    Parameters
    ----------
    trusted
        Proxies, behind which many may stand.
    """

    def __init__(self, trusted: frozenset[str]) -> None:
        self._trusted = trusted
        self._counts: Counter[str] = Counter()

    def take(self, peer: str) -> bool:
        """Take a place for a connection; return whether there is one."""
        most = MOST_CONNECTIONS if peer in self._trusted else MOST_OF_ONE
        if self._counts.total() >= MOST_CONNECTIONS or self._counts[peer] >= most:
            return False
        self._counts[peer] += 1
        return True

    def leave(self, peer: str) -> None:
        """Give a place free."""
        self._counts[peer] -= 1
        if not self._counts[peer]:
            del self._counts[peer]


def _bounded(places: _Places, tls: ssl.SSLContext | None) -> type[asyncio.Protocol]:
    """Return what speaks over one connection that has its place, and ends after a while.

    The place is taken as soon as there is a connection. One that never begins to encrypt, or asks
    for nothing, is dropped soon; what it would speak then, the library's own protocol does, which
    drops what is idle after an answer.
    """

    class Bounded(asyncio.Protocol):
        def __init__(self, **given: Any) -> None:
            self._given = given
            self._inner: H11Protocol | None = None
            self._waiting: list[bytes] = []
            self._peer: str | None = None
            self._deadline: asyncio.TimerHandle | None = None
            self._head_deadline: asyncio.TimerHandle | None = None

        def connection_made(self, transport: asyncio.BaseTransport) -> None:
            assert isinstance(transport, asyncio.Transport)
            peer = str((transport.get_extra_info("peername") or ("",))[0])
            if not places.take(peer):
                transport.abort()
                return
            self._peer = peer
            loop = asyncio.get_running_loop()
            # Whoever sends a letter a second holds up nobody for long.
            self._deadline = loop.call_later(LONGEST_S, transport.abort)
            if tls is None:
                self._speak(transport)
            else:
                transport.pause_reading()
                self._encrypting = loop.create_task(self._encrypt(transport, tls))

        async def _encrypt(self, transport: asyncio.Transport, context: ssl.SSLContext) -> None:
            loop = asyncio.get_running_loop()
            try:
                encrypted = await loop.start_tls(
                    transport,
                    self,
                    context,
                    server_side=True,
                    ssl_handshake_timeout=_HANDSHAKE_S,
                )
            except (OSError, ssl.SSLError, asyncio.CancelledError):
                transport.abort()
                self._leave()
                return
            if encrypted is None:
                self._leave()
                return
            self._speak(encrypted)

        def _speak(self, transport: asyncio.Transport) -> None:
            self._inner = H11Protocol(**self._given)
            self._inner.connection_made(transport)
            self._wait_for_head()
            for data in self._waiting:
                self.data_received(data)
            self._waiting.clear()

        def data_received(self, data: bytes) -> None:
            if self._inner is None:
                self._waiting.append(data)
            else:
                self._inner.data_received(data)
                self._wait_for_head()

        def _wait_for_head(self) -> None:
            """Wait for the head of a request for some seconds, unless one is being answered."""
            assert self._inner is not None
            request = self._inner.cycle
            if request is not None and not request.response_complete:
                self._stop_waiting()
            elif self._head_deadline is None and self._peer is not None:
                loop = asyncio.get_running_loop()
                self._head_deadline = loop.call_later(HEAD_S, self._inner.transport.abort)

        def _stop_waiting(self) -> None:
            if self._head_deadline is not None:
                self._head_deadline.cancel()
                self._head_deadline = None

        def eof_received(self) -> None:
            if self._inner is not None:
                self._inner.eof_received()

        def pause_writing(self) -> None:
            if self._inner is not None:
                self._inner.pause_writing()

        def resume_writing(self) -> None:
            if self._inner is not None:
                self._inner.resume_writing()

        def connection_lost(self, exc: Exception | None) -> None:
            self._leave()
            if self._inner is not None:
                self._inner.connection_lost(exc)

        def _leave(self) -> None:
            if self._deadline is not None:
                self._deadline.cancel()
            self._stop_waiting()
            if self._peer is not None:
                places.leave(self._peer)
                self._peer = None

    return Bounded

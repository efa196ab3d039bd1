"""The server itself: its socket, and the bounds within which anybody is listened to."""

from __future__ import annotations

import asyncio
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
    from asyncio import TimerHandle, Transport
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from starlette.types import ASGIApp

LONGEST_S = 20.0
"""How long a connection lasts at most, whatever it is used for."""
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
        raise HomeError(
            f"cannot listen at {address} port {port} ({why}): stop the program that does, or give "
            "another port under [home]"
        ) from error
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
    except (OSError, ssl.SSLError) as error:
        why = getattr(error, "reason", None) or getattr(error, "strerror", None) or str(error)
        raise HomeError(
            f"{certificate} and {key}: cannot be used as certificate and key "
            f"({str(why).lower().replace('_', ' ')}): look at certificate and key under [home]"
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
            http=_bounded(trusted=frozenset(proxies)),
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
        config.load()
        config.ssl = tls
        super().__init__(config)
        # It speaks of every stranger who sends what is no request.
        logging.getLogger("uvicorn").setLevel(logging.CRITICAL)

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
        with asyncio.Runner(loop_factory=_Loop) as runner:
            runner.run(self.serve([self.sock]))


class _Loop(asyncio.SelectorEventLoop):
    """A loop whose servers do not wait long for the beginning of an encrypted connection."""

    async def create_server(self, *arguments: Any, **options: Any) -> Any:
        if options.get("ssl") is not None:
            options["ssl_handshake_timeout"] = _HANDSHAKE_S
        return await super().create_server(*arguments, **options)


def _bounded(*, trusted: frozenset[str]) -> type[H11Protocol]:
    """Return what speaks HTTP over one connection, with counts that all connections share."""
    counts: Counter[str] = Counter()

    class Bounded(H11Protocol):
        """A connection that ends after a while, of an address that has but a few."""

        _deadline: TimerHandle | None = None
        _peer: str | None = None

        def connection_made(self, transport: Transport) -> None:  # type: ignore[override]
            super().connection_made(transport)
            peer = str((transport.get_extra_info("peername") or ("",))[0])
            most = MOST_CONNECTIONS if peer in trusted else MOST_OF_ONE
            if counts.total() >= MOST_CONNECTIONS or counts[peer] >= most:
                transport.abort()
                return
            self._peer = peer
            counts[peer] += 1
            # Whoever sends a letter a second holds up nobody for long.
            self._deadline = self.loop.call_later(LONGEST_S, transport.abort)

        def connection_lost(self, exc: Exception | None) -> None:
            if self._deadline is not None:
                self._deadline.cancel()
            if self._peer is not None:
                counts[self._peer] -= 1
                if not counts[self._peer]:
                    del counts[self._peer]
            super().connection_lost(exc)

    return Bounded

"""What the web server answers: reports of doors, and the page of an alarm."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, PlainTextResponse
from starlette.routing import Route

from daylatch.console import say
from daylatch.errors import DiaryError
from daylatch.home.limits import REFUSALS, REPORTS, STRANGERS, Rate, host_in
from daylatch.home.report.report import MOST_BYTES, ReportError, read_report
from daylatch.home.server.access import Access, Renewing
from daylatch.home.server.alarm_page import alarm_page, gone_page
from daylatch.home.server.asking import TooLargeError, body_of, peer_of, seconds, told
from daylatch.home.server.home_pages import HomePages

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.types import ASGIApp, Receive, Scope, Send

    from daylatch.diary.store.store import Reported
    from daylatch.home.server.house import House
    from daylatch.site.home import Home


class _RefusedError(Exception):
    """A report that is not taken in; says with which status, why, and which headers."""

    def __init__(self, status: int, why: str, headers: dict[str, str] | None = None) -> None:
        super().__init__(why)
        self.status = status
        self.headers = headers


class App:
    """Answers requests for some houses; see `make_app`."""

    def __init__(self, houses: Sequence[House]) -> None:
        self.houses = houses
        self.doors = Rate(REPORTS)
        self.strangers = Rate(STRANGERS)
        self.refusals = Rate(REFUSALS)

    async def report(self, request: Request) -> Response:
        """Take in a report."""
        try:
            noted = await self._take(request)
        except _RefusedError as error:
            if self.refusals.allows(peer_of(request), seconds()):
                # A door that is refused is not heard, and its keeper must be able to see why.
                say(f"refused a report from {peer_of(request)} ({error.status}): {error}")
            return JSONResponse({"error": str(error)}, error.status, headers=error.headers)
        return JSONResponse({"entry": noted.number, "new": noted.is_new})

    async def _take(self, request: Request) -> Reported:
        house = self._house_of(request)
        if house is None:
            if not self.strangers.allows(peer_of(request), seconds()):
                raise _RefusedError(429, "too many tries: wait a minute")
            raise _RefusedError(
                401,
                "give the door's token as Authorization: Bearer ...",
                {"WWW-Authenticate": "Bearer"},
            )
        if not self.doors.allows(house.watcher.house, seconds()):
            raise _RefusedError(429, "too many reports: wait a minute", {"Retry-After": "60"})
        try:
            content = await body_of(request, MOST_BYTES)
            report = read_report(content, house.receiver.clock())
            return await run_in_threadpool(house.receiver.take, report)
        except TooLargeError as error:
            raise _RefusedError(413, f"a report has {MOST_BYTES} bytes at most") from error
        except ReportError as error:
            raise _RefusedError(422, str(error)) from error
        except DiaryError as error:
            # Its words name a file of this computer, which is nobody else's business.
            raise _RefusedError(
                503, "it could not be noted: send it again later", {"Retry-After": "60"}
            ) from error

    async def alarm(self, request: Request) -> Response:
        """Show an alarm, or note that somebody acknowledges it."""
        token = request.path_params["token"]
        for house in self.houses:
            found = house.watcher.alarm(token)
            if found is None:
                continue
            if request.method == "POST":
                found = await run_in_threadpool(house.watcher.acknowledge, token) or found
            return told(request, 200, alarm_page(house, found))
        if not self.strangers.allows(peer_of(request), seconds()):
            return PlainTextResponse("too many tries: wait a minute", 429)
        return told(request, 404, gone_page())

    def _house_of(self, request: Request) -> House | None:
        """Return the house whose door has the token that is given."""
        scheme, _, given = request.headers.get("authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        # All are tried, so that the time tells nothing.
        matching = [house for house in self.houses if house.secrets().is_token(given.strip())]
        return matching[0] if matching else None


def make_app(houses: Sequence[House], hosts: Collection[str], settings: Home) -> ASGIApp:
    """Return what answers requests.

    Parameters
    ----------
    houses
        That are looked after.
    hosts
        By which names it may be asked.
    settings
        Where it listens.
    """
    app = App(houses)
    access = Access(settings, houses, app.strangers)
    routes = [
        Route("/report", app.report, methods=["POST"]),
        Route("/alarm/{token}", app.alarm, methods=["GET", "POST"]),
        Route("/join/{token}", access.join, methods=["GET", "POST"]),
        *HomePages(houses, access).routes,
    ]
    return _OnlyAskedAs(Renewing(Starlette(routes=routes)), hosts)


class _OnlyAskedAs:
    """Answers only who asks by a known name: a page of a stranger's that points here does not."""

    def __init__(self, app: ASGIApp, hosts: Collection[str]) -> None:
        self.app = app
        self.hosts = frozenset(hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "http":
            given = [value for name, value in scope["headers"] if name == b"host"]
            name = host_in(given[0].decode("latin-1")) if len(given) == 1 else ""
            if name not in self.hosts:
                await PlainTextResponse(
                    "asked by a name that is not listed: add it to hosts under [home]", 421
                )(scope, receive, send)
                return
        await self.app(scope, receive, send)

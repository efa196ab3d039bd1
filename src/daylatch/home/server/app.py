"""What the web server answers: doors that report or ask for times, and whoever looks at a page."""

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
from daylatch.home.server.asking import TooLargeError, body_of, peer_of, seconds
from daylatch.home.server.door_times import DoorTimes
from daylatch.home.server.home_pages import HomePages
from daylatch.home.server.refused import RefusedError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Collection, Sequence

    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.types import ASGIApp, Receive, Scope, Send

    from daylatch.diary.store.store import Reported
    from daylatch.home.server.door_times import TimesOfHouse
    from daylatch.home.server.house import House
    from daylatch.site.home import Home


class Doors:
    """Answers the doors of some houses."""

    def __init__(self, houses: Sequence[House]) -> None:
        self.houses = houses
        self.doors = Rate(REPORTS)
        self.strangers = Rate(STRANGERS)
        self.refusals = Rate(REFUSALS)
        # Counted apart, so that no question costs a report.
        self.questions = Rate(REPORTS)
        self.door_times = DoorTimes()

    async def report(self, request: Request) -> Response:
        """Take in a report."""
        try:
            noted = await self._take(request)
        except RefusedError as error:
            return self._refusal(request, "a report from", error)
        return JSONResponse({"entry": noted.number, "new": noted.is_new})

    async def times(self, request: Request) -> Response:
        """Tell a door what should be now, and the movements to come."""
        return await self._told(request, self.door_times.times)

    async def table(self, request: Request) -> Response:
        """Give a door its controller table."""
        return await self._told(request, self.door_times.table)

    async def _told(
        self,
        request: Request,
        tell: Callable[[Request, str, TimesOfHouse], Awaitable[Response]],
    ) -> Response:
        try:
            house = self._door_of(request, self.questions)
            return await tell(request, house.watcher.house, house.times)
        except RefusedError as error:
            return self._refusal(request, "times to", error)

    def _refusal(self, request: Request, what: str, error: RefusedError) -> Response:
        if self.refusals.allows(peer_of(request), seconds()):
            # A door that is refused is not heard, and its keeper must be able to see why.
            say(f"refused {what} {peer_of(request)} ({error.status}): {error.why}")
        return JSONResponse({"error": str(error)}, error.status, headers=error.headers)

    def _door_of(self, request: Request, rate: Rate) -> House:
        """Return the house whose door asks.

        Raises
        ------
        RefusedError
            If nobody's does, or it asks too often.
        """
        house = self._house_of(request)
        if house is None:
            if not self.strangers.allows(peer_of(request), seconds()):
                raise RefusedError(429, "too many tries: wait a minute")
            raise RefusedError(
                401,
                "give the door's token as Authorization: Bearer ...",
                {"WWW-Authenticate": "Bearer"},
            )
        if not rate.allows(house.watcher.house, seconds()):
            raise RefusedError(429, "too often: wait a minute", {"Retry-After": "60"})
        return house

    async def _take(self, request: Request) -> Reported:
        house = self._door_of(request, self.doors)
        try:
            content = await body_of(request, MOST_BYTES)
            report = read_report(content, house.receiver.clock())
            return await run_in_threadpool(house.receiver.take, report)
        except TooLargeError as error:
            raise RefusedError(413, f"a report has {MOST_BYTES} bytes at most") from error
        except ReportError as error:
            raise RefusedError(422, str(error)) from error
        except DiaryError as error:
            # Its words name a file of this computer, which is nobody else's business.
            raise RefusedError(
                503, "it could not be noted: send it again later", {"Retry-After": "60"}
            ) from error

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
    doors = Doors(houses)
    access = Access(settings, houses, doors.strangers)
    routes = [
        Route("/report", doors.report, methods=["POST"]),
        Route("/times.json", doors.times, methods=["GET"]),
        Route("/table.bin", doors.table, methods=["GET"]),
        Route("/join/{token}", access.join, methods=["GET", "POST"]),
        *HomePages(houses, access).routes,
    ]
    app = Starlette(routes=routes)
    # Addresses are relative, and a redirect to one with another end would not be.
    app.router.redirect_slashes = False
    return _OnlyAskedAs(Renewing(app), hosts)


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

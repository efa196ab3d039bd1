"""The page at home over HTTP: shown, noted on, undone, and its papers."""

from __future__ import annotations

import asyncio
import gzip
import hashlib
import re
import uuid
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from typing import TYPE_CHECKING
from urllib.parse import parse_qsl

from starlette.concurrency import run_in_threadpool
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.routing import Route

from daylatch.errors import DaylatchError, DiaryError
from daylatch.home.limits import REPORTS, Rate
from daylatch.home.page.page import Reader
from daylatch.home.page.render import (
    ASSETS,
    HEADERS,
    WORKER,
    Form,
    Message,
    asset_named,
    version_of,
)
from daylatch.home.page.taps import TapError
from daylatch.home.server.alarm_page import alarm_page, gone_page
from daylatch.home.server.asking import (
    TooLargeError,
    body_of,
    has_already,
    peer_of,
    root_of,
    seconds,
    told,
)

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, Mapping, Sequence

    from starlette.requests import Request

    from daylatch.home.page.page import Notice
    from daylatch.home.page.taps import Tap
    from daylatch.home.server.access import Access, Visitor
    from daylatch.home.server.house import House

MOST_BYTES = 4096
"""How large a form is at most."""
_MOST_FIELDS = 20
_JSON = "application/json"
_HTML = "text/html; charset=utf-8"
_CURRENT = {"Cache-Control": "private, no-cache"}
_FOR_EVER = {"Cache-Control": "public, max-age=31536000, immutable"}
_PAPER = HEADERS | _CURRENT
_PAPER |= {
    "Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; img-src data:; "
    "font-src data:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}
_SAID_AGAIN = ("tap", "what", "value")
_LEAST_PACKED = 500


class _RefusedError(Exception):
    """A form that is not taken in; says with which status, and how that is said."""

    def __init__(self, status: int, message: Message) -> None:
        super().__init__(message.title)
        self.status = status
        self.message = message


class HomePages:
    """Answers for the pages of some houses.

    Parameters
    ----------
    houses
        That are looked after.
    access
        Knows who may see what.
    """

    def __init__(self, houses: Sequence[House], access: Access) -> None:
        self.houses = {house.watcher.house: house for house in houses}
        self.access = access
        self.taps = Rate(REPORTS)
        # Of their own, since they take seconds: whoever waits for one keeps no thread from others.
        self._papers = ThreadPoolExecutor(1, "papers")

    @property
    def routes(self) -> list[Route]:
        """What is answered, by address."""
        return [
            Route("/", self.start),
            Route("/house/{house}", self.show),
            Route("/house/{house}/note", self.note, methods=["POST"]),
            Route("/house/{house}/undo", self.undo, methods=["POST"]),
            Route("/house/{house}/{name}", self.paper),
            Route("/alarm/{token}", self.alarm, methods=["GET", "POST"]),
            Route("/assets/{name}", self.asset),
            Route(f"/{WORKER}", self.worker),
        ]

    async def start(self, request: Request) -> Response:
        """Lead to the page that may be seen, or name those that may."""
        seen = [one for one in self.houses.values() if await self._visitor(request, one)]
        if not seen:
            return self.access.refusal(request)
        if len(seen) == 1:
            return _to(request, _base(seen[0]))
        lines = [await run_in_threadpool(one.pages.line) for one in seen]
        links = [
            (_base(one), f"{one.name()}: {line}") for one, line in zip(seen, lines, strict=True)
        ]
        return told(request, 200, Message("Houses", links=links))

    async def show(self, request: Request) -> Response:
        """Show the page of a house."""
        house, visitor = await self._house(request)
        if house is None and self.access.is_here(request):
            return told(request, 404, Message("There is no such house"))
        if house is None or visitor is None:
            return self.access.refusal(request)
        notice = await run_in_threadpool(_notice, house, request.query_params.get("entry", ""))
        reader = Reader(
            visitor.name, visitor.may_write, visitor.form_token, is_here=visitor.is_loopback
        )
        content = await run_in_threadpool(house.pages.page, reader, notice)
        return _unless_known(request, content, HEADERS | _CURRENT | {"Content-Type": _HTML})

    async def note(self, request: Request) -> Response:
        """Note a tap."""
        return await self._answered(request, self._note)

    async def undo(self, request: Request) -> Response:
        """Undo a tap."""
        return await self._answered(request, self._undo)

    async def paper(self, request: Request) -> Response:
        """Hand out a paper or a file of a house."""
        house, visitor = await self._house(request)
        if house is None or visitor is None:
            return self.access.refusal(request)
        name = request.path_params["name"]
        try:
            loop = asyncio.get_running_loop()
            file = await loop.run_in_executor(self._papers, house.pages.file, name)
        except DaylatchError as error:
            # Its words may name files of this computer, which are the keeper's alone.
            words = list(error.lines) if visitor.is_loopback else ["The keeper can say why."]
            return told(request, 503, Message("This cannot be made now", words, back=_base(house)))
        if file is None:
            words = ["Perhaps the site file has changed: look at the page again."]
            return told(request, 404, Message("There is no such paper", words, back=_base(house)))
        headers = _PAPER | {"Content-Type": file.media_type}
        if file.name:
            headers["Content-Disposition"] = f'attachment; filename="{file.name}"'
        return _unless_known(request, file.content, headers)

    async def alarm(self, request: Request) -> Response:
        """Show an alarm, or note that somebody acknowledges it; whoever has the link may."""
        token = request.path_params["token"]
        for house in self.houses.values():
            found = house.watcher.alarm(token)
            if found is None:
                continue
            if request.method == "POST":
                by = _who(await self._visitor(request, house))
                found = await run_in_threadpool(house.watcher.acknowledge, token, by) or found
            return told(request, 200, alarm_page(house, found))
        if not self.access.strangers.allows(peer_of(request), seconds()):
            return PlainTextResponse("too many tries: wait a minute", 429)
        return told(request, 404, gone_page())

    async def asset(self, request: Request) -> Response:
        """Hand out a style, script or icon."""
        name = request.path_params["name"]
        if name not in ASSETS:
            return told(request, 404, Message("There is no such file"))
        is_current = request.url.query == version_of(name)
        return self._asset(request, name, _FOR_EVER if is_current else _CURRENT)

    async def worker(self, request: Request) -> Response:
        """Hand out the script that keeps the page for when there is no connection."""
        return self._asset(request, WORKER, _CURRENT)

    def _asset(self, request: Request, name: str, headers: dict[str, str]) -> Response:
        media_type = {"Content-Type": asset_named(name).media_type}
        return _unless_known(request, asset_named(name).content, HEADERS | headers | media_type)

    async def _answered(
        self,
        request: Request,
        take: Callable[[House, Visitor, dict[str, str]], Awaitable[tuple[str, int | None]]],
    ) -> Response:
        """Return what is answered to a form: in a sentence for the script, else by the page."""
        wants_json = request.headers.get("accept", "").startswith(_JSON)
        try:
            house, visitor, fields = await self._form(request)
            said, entry = await take(house, visitor, fields)
        except _RefusedError as error:
            if not wants_json:
                return told(request, error.status, error.message)
            title = error.message.title
            said = " ".join((title if title.endswith("?") else f"{title}.", *error.message.words))
            return JSONResponse({"said": said}, error.status, headers=HEADERS | _CURRENT)
        if wants_json:
            return JSONResponse({"said": said, "entry": entry}, headers=HEADERS | _CURRENT)
        shown = fields.get("entry", "") if entry is None else entry
        return _to(request, f"{_base(house)}?entry={shown}")

    async def _note(
        self, house: House, visitor: Visitor, fields: dict[str, str]
    ) -> tuple[str, int | None]:
        tap = await run_in_threadpool(_read, house, visitor, fields)
        if tap.is_old:
            raise _RefusedError(
                409,
                _asked(
                    house,
                    visitor,
                    tap,
                    "Is that so now?",
                    "The page was opened hours ago, so nothing has been noted yet.",
                ),
            )
        try:
            tapped, said = await run_in_threadpool(house.pages.note, tap)
        except DiaryError as error:
            words = "The diary could not be written just now. Nothing is lost: send it again."
            message = _asked(house, visitor, tap, "It is not noted yet", words)
            raise _RefusedError(503, message) from error
        if not tapped.noted.is_live and not fields.get("ago"):
            words = "It was noted and undone before, so it has not been noted again."
            fresh = tap._replace(fields=tap.fields | {"tap": uuid.uuid4().hex})
            raise _RefusedError(409, _asked(house, visitor, fresh, "Note it again?", words))
        return said, tapped.noted.number if tapped.noted.is_live else None

    async def _undo(
        self, house: House, _: Visitor, fields: dict[str, str]
    ) -> tuple[str, int | None]:
        number = _number(fields.get("entry", ""))
        if number is None:
            raise _RefusedError(422, _wrong(house, "This is nothing that this page has."))
        try:
            return await run_in_threadpool(house.pages.undo, number), None
        except DiaryError as error:
            words = "The diary could not be written just now: try it again in a moment."
            message = Message("It is not undone yet", [words], back=_base(house))
            raise _RefusedError(503, message) from error

    async def _form(self, request: Request) -> tuple[House, Visitor, dict[str, str]]:
        """Return what a form says, of a house on which its sender may note."""
        house, visitor = await self._house(request)
        if house is None or visitor is None:
            refusal = self.access.refusal(request)
            words = ["Ask the keeper for a link, and open it on this phone or computer."]
            raise _RefusedError(refusal.status_code, Message("You need an invitation", words))
        if not visitor.may_write:
            title = "This link reads the page, and notes nothing"
            words = ["To note something, ask the keeper for one that may."]
            raise _RefusedError(403, Message(title, words, back=_base(house)))
        if not self.taps.allows(f"{house.watcher.house} {visitor.name}", seconds()):
            words = ["Wait a minute, and send it again."]
            raise _RefusedError(429, Message("That is too often", words, back=_base(house)))
        fields = await _fields(request, house)
        given = fields.get("token", "")
        genuine = await run_in_threadpool(self.access.is_genuine, request, house, visitor, given)
        if not genuine:
            raise _RefusedError(403, await run_in_threadpool(_doubted, house, visitor, fields))
        return house, visitor, fields

    async def _house(self, request: Request) -> tuple[House | None, Visitor | None]:
        house = self.houses.get(request.path_params["house"])
        return house, None if house is None else await self._visitor(request, house)

    async def _visitor(self, request: Request, house: House) -> Visitor | None:
        return await run_in_threadpool(self.access.visitor_of, request, house)


def _who(visitor: Visitor | None) -> str:
    """Return who acknowledges an alarm; the link alone does not say."""
    if visitor is None:
        return ""
    return "The keeper" if visitor.is_loopback else visitor.name


async def _fields(request: Request, house: House) -> dict[str, str]:
    try:
        content = await body_of(request, MOST_BYTES)
        pairs = parse_qsl(
            content.decode(), keep_blank_values=True, max_num_fields=_MOST_FIELDS, errors="strict"
        )
    except TooLargeError as error:
        message = _wrong(house, f"A form has {MOST_BYTES} bytes at most.")
        raise _RefusedError(413, message) from error
    except ValueError as error:
        message = _wrong(house, "This is nothing that this page has.")
        raise _RefusedError(422, message) from error
    return dict(pairs)


def _read(house: House, visitor: Visitor, fields: dict[str, str]) -> Tap:
    try:
        return house.pages.read(fields, visitor.name)
    except TapError as error:
        raise _RefusedError(422, _wrong(house, str(error))) from error


def _wrong(house: House, words: str) -> Message:
    return Message("This was not noted", [words], back=_base(house))


def _doubted(house: House, visitor: Visitor, fields: dict[str, str]) -> Message:
    """Return what is said of a form that no page of this home has sent, or one of long ago."""
    title, words = "Was that you?", "It did not come from this page, or from one of long ago."
    try:
        tap = house.pages.read(fields, visitor.name)
    except TapError:
        return Message(title, [words, "Nothing was changed."], back=_base(house))
    return _asked(house, visitor, tap, title, f"{words} Nothing has been noted yet.")


def _asked(house: House, visitor: Visitor, tap: Tap, title: str, words: str) -> Message:
    """Return a page that asks whether to note a tap, with the moment at which it arrived."""
    at_s = int(tap.entry.instant_utc.astype("datetime64[s]").astype(int))
    fields = [
        ("token", visitor.form_token),
        ("moment", str(at_s)),
        *((name, tap.fields[name]) for name in _SAID_AGAIN if name in tap.fields),
    ]
    says = house.pages.words(tap)
    form = Form(f"{_base(house)}/note", f"Note: {says}", fields)
    return Message(title, [words], [form], back=_base(house))


def _notice(house: House, text: str) -> Notice | None:
    number = _number(text)
    return None if number is None else house.pages.notice_of(number)


def _number(text: str) -> int | None:
    return int(text) if re.fullmatch(r"\d{1,15}", text, re.ASCII) else None


def _base(house: House) -> str:
    """Return where a house's page stands, from the home's beginning on."""
    return f"house/{house.watcher.house}"


def _to(request: Request, address: str) -> Response:
    return RedirectResponse(f"{root_of(request)}/{address}", 303, headers=HEADERS)


def _unless_known(request: Request, content: bytes, headers: Mapping[str, str]) -> Response:
    """Return a content, or that the asker has it already."""
    tag = f'"{hashlib.sha256(content).hexdigest()[:32]}"'
    # Weak, since what is packed is the same to whoever reads it.
    headers = {**headers, "ETag": f"W/{tag}", "Vary": "Accept-Encoding"}
    if has_already(request, tag):
        return Response(status_code=304, headers=headers)
    # What holds somebody's secrets is not packed: by its length it would tell of them.
    may_pack = not headers["Content-Type"].startswith("text/html") and len(content) > _LEAST_PACKED
    if may_pack and "gzip" in request.headers.get("accept-encoding", ""):
        return Response(_packed(content), headers=headers | {"Content-Encoding": "gzip"})
    return Response(content, headers=headers)


@lru_cache(maxsize=16)
def _packed(content: bytes) -> bytes:
    return gzip.compress(content, mtime=0)

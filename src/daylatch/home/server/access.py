"""Who may see a house, and note something: the keeper at the computer itself, and guests.

A guest has a cookie, got by a link that works once. At the computer itself nobody needs one, but
what comes from its own address need not be sent by somebody who sits there. So that is believed
only if all of this holds:

- The peer's address is a loopback address, and none of the proxies that the site file names.
- The request carries no header that a proxy adds: whoever passes requests on says for whom.
- It asks for a loopback name. A page of a stranger's whose name was made to lead here asks for its
  own name, and a proxy mostly for that of the site.
- No proxy must stand before it that the site file does not name. That is so if the home listens to
  its own computer only, or does not encrypt, and is yet to be reached as `url` says.
"""

from __future__ import annotations

import ipaddress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.responses import PlainTextResponse, RedirectResponse

from daylatch.console import say
from daylatch.diary.entries import KEEPER
from daylatch.errors import DaylatchError
from daylatch.home.guests.book import LOOPBACK, digest_of
from daylatch.home.guests.guest import COOKIE_LASTS, May
from daylatch.home.limits import host_in
from daylatch.home.page.render import HEADERS
from daylatch.home.server.access_pages import join_page, no_link_page, uninvited_page
from daylatch.home.server.asking import peer_of, seconds, told
from daylatch.site.values.web_address import origin_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    from starlette.datastructures import Headers
    from starlette.requests import Request
    from starlette.responses import Response
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from daylatch.home.guests.guest import Guest
    from daylatch.home.limits import Rate
    from daylatch.home.server.house import House
    from daylatch.site.home import Home

_COOKIE_S = int(COOKIE_LASTS.astype("timedelta64[s]").astype(int))
_FORWARDING = ("forwarded", "via", "x-real-ip", "client-ip", "x-client-ip", "true-client-ip")
_FORWARDING_BEGIN = "x-forwarded"
_OWN_SITE = ("same-origin", "none")
"""What a browser says of a form of our own page, or of an address that was typed
(Sec-Fetch-Site of Fetch Metadata Request Headers, W3C)."""
_UNTOLD = "null"
"""What it says as Origin of a page that is to tell nobody its address, as ours are (Fetch Standard,
"append a request Origin header")."""
_RENEWED = "daylatch_renewed"


@dataclass(frozen=True)
class Visitor:
    """Somebody who may see a house.

    Attributes
    ----------
    name : str
        The guest's; "keeper" at the computer itself.
    may_write : bool
        Whether they may also note something.
    form_token : str
        What the forms of their pages carry.
    is_loopback : bool
        Whether they are at the computer itself.
    """

    name: str
    may_write: bool
    form_token: str = field(repr=False)
    is_loopback: bool


class Access:
    """Lets in who may come in.

    Parameters
    ----------
    settings
        Where the home listens.
    houses
        That are looked after.
    strangers
        Counts those who show nothing, or what is not known.
    """

    def __init__(self, settings: Home, houses: Sequence[House], strangers: Rate) -> None:
        self.houses = houses
        self.strangers = strangers
        self._troubles = dict[str, str]()
        self._url = None if settings.url is None else urlsplit(settings.url)
        self._origin = None if settings.url is None else origin_of(settings.url)
        self._proxies = {_plain(proxy) for proxy in settings.proxies}
        self._may_be_passed_on = self._has_unnamed_proxy(settings)

    def visitor_of(self, request: Request, house: House) -> Visitor | None:
        """Return who asks, if they may see a house; None if they may not.

        What a guest shows is renewed with the answer.
        """
        if self.is_here(request):
            token = house.guests.form_token(LOOPBACK)
            return Visitor(KEEPER, may_write=True, form_token=token, is_loopback=True)
        cookie = request.cookies.get(_cookie_name(house), "")
        guest = self._guest_of(cookie, house)
        if guest is None:
            return None
        renewed = _cookie(house, cookie, is_secure=self._is_secure(request))
        getattr(request.state, _RENEWED, {})[house.watcher.house] = renewed
        token = house.guests.form_token(digest_of(cookie))
        return Visitor(guest.name, guest.may is May.WRITE, token, is_loopback=False)

    def is_genuine(
        self, request: Request, house: House, visitor: Visitor, given_token: str
    ) -> bool:
        """Return whether a form was sent by a visitor from a page of this home.

        Parameters
        ----------
        request
            That brings the form.
        house
            That it is about.
        visitor
            Who asks.
        given_token
            What the form carries.
        """
        holder = LOOPBACK
        if not visitor.is_loopback:
            holder = digest_of(request.cookies.get(_cookie_name(house), ""))
        is_own = house.guests.is_form_token(holder, given_token)
        return is_own and _is_from_own_page(request.headers, self._origin)

    def refusal(self, request: Request) -> Response:
        """Return what is answered to somebody who may not see what they ask for, and count them.

        Called where requests are answered, and in no other thread.
        """
        if not self.strangers.allows(peer_of(request), seconds()):
            return _too_many()
        return told(request, 403, uninvited_page())

    async def join(self, request: Request) -> Response:
        """Show an invitation, or let somebody in by it.

        Only the button uses it up: chats open links to show what is behind them.
        """
        token = request.path_params["token"]
        found = await run_in_threadpool(self._invited, token)
        if found is not None:
            house, guest = found
            # A page of a stranger's that sends the form is only answered by the page.
            if request.method != "POST" or not _is_from_own_page(request.headers, self._origin):
                return told(request, 200, join_page(house.name(), guest))
            return await self._let_in(request, house, guest, token)
        known = await run_in_threadpool(self._house_of_guest, request)
        if known is not None:
            # They opened the link once more, to come back.
            return _to_house(known)
        return self._no_link(request)

    def is_here(self, request: Request) -> bool:
        """Return whether somebody sits at the computer itself."""
        peer = _plain(peer_of(request))
        return (
            _is_loopback(peer)
            and peer not in self._proxies
            and not self._may_be_passed_on
            and not any(map(_is_forwarding, request.headers))
            and _is_loopback_name(host_in(request.headers.get("host", "")))
        )

    def _has_unnamed_proxy(self, settings: Home) -> bool:
        """Return whether a proxy must stand before the home that is not named."""
        if self._url is None or _is_loopback_name(str(self._url.hostname)):
            return False
        if settings.is_loopback:
            return True
        is_plain = settings.certificate is None
        return self._url.scheme == "https" and is_plain and not settings.proxies

    def _invited(self, token: str) -> tuple[House, Guest] | None:
        for house in self.houses:
            try:
                guest = house.guests.invited(token, house.receiver.clock())
            except DaylatchError as error:
                self._say_trouble(house, error)
                continue
            if guest is not None:
                return house, guest
        return None

    async def _let_in(self, request: Request, house: House, guest: Guest, token: str) -> Response:
        now = house.receiver.clock()
        try:
            cookie = await run_in_threadpool(house.guests.join, token, now)
        except DaylatchError as error:
            self._say_trouble(house, error)
            return PlainTextResponse("it could not be noted: try again later", 503)
        if cookie is None:
            return self._no_link(request)
        say(f"{now}Z {house.name()}: joined as {guest.name}, {guest.may.words}")
        answer = _to_house(house)
        header = _cookie(house, cookie, is_secure=self._is_secure(request))
        answer.headers.append("set-cookie", header)
        return answer

    def _house_of_guest(self, request: Request) -> House | None:
        """Return the first house of which somebody is a guest already."""
        for house in self.houses:
            if self._guest_of(request.cookies.get(_cookie_name(house), ""), house) is not None:
                return house
        return None

    def _guest_of(self, cookie: str, house: House) -> Guest | None:
        if not cookie:
            return None
        try:
            guest = house.guests.guest_of(cookie, house.receiver.clock())
        except DaylatchError as error:
            self._say_trouble(house, error)
            return None
        self._troubles.pop(house.watcher.house, None)
        return guest

    def _no_link(self, request: Request) -> Response:
        if not self.strangers.allows(peer_of(request), seconds()):
            return _too_many()
        return told(request, 404, no_link_page())

    def _say_trouble(self, house: House, error: DaylatchError) -> None:
        """Say once what keeps guests out, until they can come in again."""
        if self._troubles.get(house.watcher.house) != str(error):
            self._troubles[house.watcher.house] = str(error)
            say(f"daylatch: {house.name()}: no guest can come in: {'; '.join(error.lines)}")

    def _is_secure(self, request: Request) -> bool:
        """Return whether a request came encrypted: to the home itself, or to a proxy before it."""
        if request.url.scheme == "https":
            return True
        if not self._proxies or self._url is None or self._url.scheme != "https":
            return False
        return host_in(request.headers.get("host", "")) == self._url.hostname


class Renewing:
    """Gives guests their cookies anew with what they are answered: see `Access.visitor_of`."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on."""
        renewed: dict[str, str] = {}
        scope.setdefault("state", {})[_RENEWED] = renewed

        async def renew(message: Message) -> None:
            if message["type"] == "http.response.start":
                cookies = [(b"set-cookie", header.encode("latin-1")) for header in renewed.values()]
                message["headers"] = [*message.get("headers", ()), *cookies]
            await send(message)

        await self.app(scope, receive, renew)


def _is_from_own_page(headers: Headers, own_origin: str | None) -> bool:
    """Return whether nothing that a browser says speaks of a page from elsewhere."""
    if headers.get("sec-fetch-site", _OWN_SITE[0]) not in _OWN_SITE:
        return False
    given = headers.get("origin", _UNTOLD)
    if given == _UNTOLD:
        return True
    origin = _origin_or_none(given)
    if origin is None:
        return False
    asked = f"{urlsplit(origin).scheme}://{headers.get('host', '')}"
    return origin in (own_origin, _origin_or_none(asked))


def _cookie_name(house: House) -> str:
    return f"daylatch-{house.watcher.house}"


def _cookie(house: House, secret: str, *, is_secure: bool) -> str:
    """Return the header that gives a guest a cookie (RFC 6265)."""
    header = f"{_cookie_name(house)}={secret}; Path=/; Max-Age={_COOKIE_S}; HttpOnly; SameSite=Lax"
    return f"{header}; Secure" if is_secure else header


def _to_house(house: House) -> Response:
    # Seen from the link, since a proxy may pass on what lies below some path only.
    return RedirectResponse(f"../house/{house.watcher.house}", 303, headers=HEADERS)


def _too_many() -> Response:
    return PlainTextResponse("too many tries: wait a minute", 429)


def _is_forwarding(header: str) -> bool:
    name = header.lower()
    return name in _FORWARDING or name.startswith(_FORWARDING_BEGIN)


def _plain(address: str) -> str:
    """Return an address as it is compared: one of IPv4 may come written as one of IPv6."""
    try:
        found = ipaddress.ip_address(address)
    except ValueError:
        return address
    inner = getattr(found, "ipv4_mapped", None)
    return str(found if inner is None else inner)


def _is_loopback(address: str) -> bool:
    try:
        return ipaddress.ip_address(address).is_loopback
    except ValueError:
        return False


def _is_loopback_name(name: str) -> bool:
    return name == "localhost" or _is_loopback(name)


def _origin_or_none(address: str) -> str | None:
    try:
        return origin_of(address)
    except ValueError:
        return None

"""The HTTP session: bound to one origin, and to answers that fit into a small machine's memory."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Any
from urllib.parse import urljoin

import niquests

from daylatch.errors import CalendarServerError
from daylatch.site.values.web_address import origin_of

if TYPE_CHECKING:
    from collections.abc import Callable

MOST_BYTES = 32 * 2**20
"""Of one answer, unpacked. An entry of a sync takes up to 1 kB in it, so it is a list of some
30,000: forty years of door times, or a calendar that many have written to for long."""
_MOST_TAGS = 1_000_000
"""Of one answer. Each takes some 300 bytes once it is read; that list of 30,000 has fewer."""
_PIECE_BYTES = 2**16
_PACKINGS = {"gzip", "deflate"}
_MOST_REDIRECTS = 5
_REDIRECTS = (301, 302, 307, 308)
_QUIET = logging.CRITICAL + 1

# The libraries speak of their own affairs.
for _name in ("caldav", "niquests", "urllib3", "urllib3_future", "charset_normalizer"):
    logging.getLogger(_name).setLevel(_QUIET)


class _NoLogin(niquests.auth.AuthBase):
    """Keeps the HTTP library from looking for logins of its own."""

    def __call__(self, request: Any) -> Any:
        return request


class _Body:
    """The body of an answer, which is read piece by piece and only up to `MOST_BYTES`."""

    def __init__(self, raw: Any, too_large: Callable[[], Exception]) -> None:
        self._raw = raw
        self._too_large = too_large

    def __getattr__(self, name: str) -> Any:
        return getattr(self._raw, name)

    def read(self, decode_content: bool = True) -> bytes:
        """Return all of it, unpacked."""
        body, tags = bytearray(), 0
        try:
            for piece in self._raw.stream(_PIECE_BYTES, decode_content=decode_content):
                body += piece
                tags += piece.count(b"<")
                if len(body) > MOST_BYTES or tags > _MOST_TAGS:
                    raise self._too_large()
        except BaseException:
            # What is left of it is never read.
            self._raw.close()
            raise
        return bytes(body)


class _BoundAdapter(niquests.adapters.HTTPAdapter):
    """Bounds every answer as it comes in, before any part of the library reads it."""

    def __init__(self, origin: str) -> None:
        # Nothing is learnt of other addresses.
        super().__init__(disable_http3=True)
        self.origin = origin

    def build_response(self, req: Any, resp: Any) -> Any:
        """Return the answer with a body that cannot fill the memory."""
        answer = super().build_response(req, resp)
        packings = str(answer.headers.get("Content-Encoding", "")).lower().split(",")
        # Not all that unpack other kinds stop at a bound.
        if not {one.strip() for one in packings} <= {"", "identity", *_PACKINGS}:
            resp.close()
            raise CalendarServerError(
                f"{self.origin}: packs its answer in a way that was not asked for; tell whoever "
                "runs that server"
            )
        answer.raw = _Body(answer.raw, self._too_large)
        return answer

    def _too_large(self) -> CalendarServerError:
        return CalendarServerError(
            f"{self.origin}: sends more than {MOST_BYTES // 2**20} MB at once, so the rest was not "
            "read; check the address, or keep the door times in a calendar of their own"
        )


class BoundSession(niquests.Session):
    """Sends requests to one origin, whatever an answer asks for."""

    def __init__(self, origin: str) -> None:
        super().__init__(disable_http3=True)
        self.origin = origin
        self.headers["Accept-Encoding"] = ", ".join(sorted(_PACKINGS))
        # What is not encrypted takes no way round by a proxy that the environment names.
        self.trust_env = origin.startswith("https:")
        for scheme in ("http://", "https://"):
            self.mount(scheme, _BoundAdapter(origin))

    def request(self, method: str, url: str, *args: Any, **options: Any) -> Any:
        """Send a request, and follow redirects within the origin only."""
        options["auth"] = options.get("auth") or _NoLogin()
        options["allow_redirects"] = False
        for _ in range(_MOST_REDIRECTS):
            self._check(url)
            answer = super().request(method, url, *args, **options)
            target = answer.headers.get("Location")
            if answer.status_code not in _REDIRECTS or not target:
                return answer
            url = urljoin(url, str(target))
        raise CalendarServerError(f"{self.origin}: redirects without end; check the address")

    def _check(self, url: str) -> None:
        try:
            there = origin_of(url)
        except ValueError:
            there = "an address that cannot be read"
        if there != self.origin:
            raise CalendarServerError(
                f"{self.origin}: leads to {there}, and a login is for one origin only; if you "
                "trust that one, write the address there into the site file or --url"
            )

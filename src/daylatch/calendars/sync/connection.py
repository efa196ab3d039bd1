"""The way to a calendar server: one session, bound to one origin.

Every trouble becomes one message that names the origin and the remedy, and never repeats what the
server or a library printed.
"""

from __future__ import annotations

import http
import logging
import threading
from typing import TYPE_CHECKING, Any, cast
from urllib.parse import urljoin

import niquests
from caldav.davclient import DAVClient
from caldav.lib import error
from lxml import etree

from daylatch.calendars.sync.login import Login, how_to_log_in
from daylatch.errors import CalendarServerError
from daylatch.site.web_address import origin_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from caldav.response import DAVResponse

TIMEOUT_S = 30
"""How long a server may stay silent."""
MOST_WAIT_S = 90.0
"""How long one request waits at most for a server that is busy."""
_FIRST_WAIT_S = 5.0
_MOST_REDIRECTS = 5
_REDIRECTS = (301, 302, 307, 308)
_PHRASES = {status.value for status in http.HTTPStatus}
_QUIET = logging.CRITICAL + 1

# The libraries speak of their own affairs, and can be told to write requests into files.
for _name in ("caldav", "niquests", "urllib3", "urllib3_future", "charset_normalizer"):
    logging.getLogger(_name).setLevel(_QUIET)
error.debug_dump_communication = False


class _NoLogin(niquests.auth.AuthBase):
    """Keeps the HTTP library from looking for logins of its own."""

    def __call__(self, request: Any) -> Any:
        return request


class _BoundSession(niquests.Session):
    """Sends requests to one origin, whatever an answer asks for."""

    def __init__(self, origin: str) -> None:
        # One connection for one request at a time; nothing is learnt of other addresses.
        super().__init__(disable_http3=True)
        self.origin = origin
        # What is not encrypted takes no way round by a proxy that the environment names.
        self.trust_env = origin.startswith("https:")

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


class Connection:
    """A server and the login there.

    Parameters
    ----------
    url
        As the keeper gave it.
    login
        None to try without one.
    """

    def __init__(self, url: str, login: Login | None) -> None:
        self.origin = origin_of(url)
        self.login = login
        self.stop = threading.Event()
        self._client = DAVClient(
            url,
            username=login.user if login else None,
            password=login.password if login else None,
            timeout=TIMEOUT_S,
            enable_rfc6764=False,
            rate_limit_handle=False,
        )
        self._client.session.close()
        self._client.session = _BoundSession(self.origin)

    def close(self) -> None:
        """Let go of the connections."""
        self._client.close()

    def parsed(self, parse: Callable[[], list[Any]]) -> list[Any]:
        """Return what an answer is read as; the library trusts that it makes sense."""
        try:
            return parse()
        except Exception:
            raise self.not_caldav() from None

    def request(
        self, method: str, url: str, body: bytes = b"", headers: Mapping[str, str] | None = None
    ) -> DAVResponse:
        """Send a request; wait for a server that is busy, but not for long.

        Returns
        -------
        DAVResponse
            With any status but 401, 403 and those of a busy server.

        Raises
        ------
        CalendarServerError
            If there is no answer, or one of those.
        AuthorizationError
            If an entry must not be written.
        """
        waited = 0.0
        while True:
            try:
                # Its hints name text only, and it takes bytes as they are.
                return self._client.request(url, method, cast("str", body), headers or {})
            except error.RateLimitError as busy:
                wait = busy.retry_after_seconds
                wait = _FIRST_WAIT_S if wait is None else max(wait, 0.1)
                waited += wait
                if waited > MOST_WAIT_S:
                    raise CalendarServerError(
                        f"{self.origin}: is busy and asks to wait {wait:.0f} s; run again then"
                    ) from None
                if self.stop.wait(wait):
                    raise CalendarServerError(f"{self.origin}: stopped") from None
            except error.AuthorizationError as refused:
                if refused.status == http.HTTPStatus.FORBIDDEN and method in ("PUT", "DELETE"):
                    raise
                raise self.trouble(refused.status or 401, method) from None
            except niquests.exceptions.Timeout:
                raise CalendarServerError(
                    f"{self.origin}: did not answer within {self._client.timeout} s; try again "
                    "later"
                ) from None
            except niquests.exceptions.SSLError:
                raise CalendarServerError(
                    f"{self.origin}: its certificate or encryption cannot be trusted, so nothing "
                    "was sent; check the address, and the server's certificate"
                ) from None
            except niquests.exceptions.RequestException as trouble:
                unknown = "NameResolutionError" in str(trouble)
                why = "there is no such server" if unknown else "cannot be reached"
                raise CalendarServerError(
                    f"{self.origin}: {why}; check the address and the network"
                ) from None
            except NotImplementedError:
                raise CalendarServerError(
                    f"{self.origin}: asks for a kind of login that is not known here (known are "
                    "Basic and Digest)"
                ) from None
            except (etree.XMLSyntaxError, error.DAVError):
                raise self.not_caldav() from None

    def not_caldav(self) -> CalendarServerError:
        """Return what is said of an answer that makes no sense."""
        return CalendarServerError(
            f"{self.origin}: does not answer as a calendar server (CalDAV) there; check the address"
        )

    def trouble(self, status: int, method: str) -> CalendarServerError:
        """Return what is said of a status other than the hoped-for, with the remedy."""
        writing = method in ("PUT", "DELETE", "MKCALENDAR")
        phrase = f"{status} {http.HTTPStatus(status).phrase}" if status in _PHRASES else f"{status}"
        if status == http.HTTPStatus.UNAUTHORIZED:
            if self.login is None:
                words = f"asks for a login, and none was found: {how_to_log_in(self.origin)}"
            else:
                words = (
                    f"refused the login of {self.login.user} (from {self.login.source}); check "
                    "name and password"
                )
        elif status == http.HTTPStatus.FORBIDDEN and writing:
            words = (
                "does not let you write there: the calendar is read-only for this login, or the "
                "server takes no such entries; name a calendar that you may change"
            )
        elif status == http.HTTPStatus.FORBIDDEN:
            words = "does not let this login read there; check the address and whose login it is"
        elif status in (404, 410):
            words = (
                "there is no such calendar; check the address, or write that of your account and "
                'calendar = "NAME" under [sync] to have it made'
            )
        elif status == http.HTTPStatus.INSUFFICIENT_STORAGE:
            words = "has no room left (507); make room there, and run again"
        elif status >= http.HTTPStatus.INTERNAL_SERVER_ERROR and status != 501:
            words = f"has trouble of its own ({phrase}); run again later"
        elif writing:
            words = f"did not take what was sent ({phrase})"
        else:
            return self.not_caldav()
        return CalendarServerError(f"{self.origin}: {words}")

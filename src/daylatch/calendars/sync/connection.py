"""The way to a calendar server: one session, bound to one origin, in bounded time.

Whatever a library on that way raises becomes one message here, which names the origin and the
remedy.
"""

from __future__ import annotations

import http
import math
import threading
from functools import partial
from typing import TYPE_CHECKING, TypeVar, cast

from caldav.davclient import DAVClient
from caldav.elements import dav
from caldav.lib import error

from daylatch.calendars.sync.login import Login, how_to_log_in
from daylatch.calendars.sync.session import BoundSession
from daylatch.calendars.sync.troubles import NOT_CALDAV, status_words, trouble_words
from daylatch.calendars.sync.workers import TookTooLongError, Workers
from daylatch.errors import CalendarServerError
from daylatch.site.values.web_address import origin_of
from daylatch.wording import duration_text

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from caldav.response import DAVResponse

TIMEOUT_S = 30
"""How long a server may stay silent."""
MOST_REQUEST_S = 120.0
"""How long one request may take until its answer is here: in that time the list of a year's entries
(1 MB) comes in by a line of 70 kbit/s."""
MOST_RUN_S = 30 * 60.0
"""How long a run may take in all: a year of entries, four at a time, at 8 s each."""
MOST_WAIT_S = 90.0
"""How long one request waits at most for a server that is busy."""
LEAST_WAIT_S = 1.0
"""The shortest first pause, whatever the server asks for. Each one after it is at least twice as
long, so that no request is sent more than seven times before `MOST_WAIT_S`."""
_FIRST_WAIT_S = 5.0

T = TypeVar("T")

# The library can be told to write requests into files.
error.debug_dump_communication = False


class Connection:
    """A server and the login there.

    Parameters
    ----------
    url
        As the keeper gave it.
    login
        None to try without one.
    clock
        Seconds that only go forward.
    """

    def __init__(self, url: str, login: Login | None, clock: Callable[[], float]) -> None:
        self.origin = origin_of(url)
        self.login = login
        self.stop = threading.Event()
        self._clock = clock
        self._end = clock() + MOST_RUN_S
        self._workers = Workers()
        self._client = DAVClient(
            url,
            username=login.user if login else None,
            password=login.password if login else None,
            timeout=TIMEOUT_S,
            enable_rfc6764=False,
            rate_limit_handle=False,
        )
        self._client.session.close()
        self._client.session = BoundSession(self.origin)

    def close(self) -> None:
        """Let go of the connections."""
        self._workers.close()
        self._client.close()

    def ask(
        self,
        method: str,
        url: str,
        read: Callable[[DAVResponse], T],
        body: bytes = b"",
        headers: Mapping[str, str] | None = None,
    ) -> T:
        """Send a request; wait for a server that is busy, but not for long.

        Parameters
        ----------
        method, url, body, headers
            Of the request.
        read
            Makes what is returned of the answer, which has any status but 401, 403 and those of a
            busy server. The answer may be anything, so nothing of it is read elsewhere.

        Returns
        -------
        T
            What ``read`` returned.

        Raises
        ------
        CalendarServerError
            If there is no answer, or one of those, or one that cannot be read.
        AuthorizationError
            If an entry must not be written.
        """

        def send() -> DAVResponse:
            # Its hints name text only, and it takes bytes as they are.
            return self._client.request(url, method, cast("str", body), headers or {})

        waited, least = 0.0, LEAST_WAIT_S
        while True:
            left = min(MOST_REQUEST_S, self._end - self._clock())
            if left <= 0:
                raise self._run_is_over()
            try:
                answer = self._workers.do(send, left)
                break
            except CalendarServerError:
                raise
            except TookTooLongError:
                if left < MOST_REQUEST_S:
                    raise self._run_is_over() from None
                raise self._said(
                    f"was not done with its answer after {MOST_REQUEST_S:g} s; try again later"
                ) from None
            except error.RateLimitError as busy:
                asked = busy.retry_after_seconds
                pause = max(_FIRST_WAIT_S if asked is None else asked, least)
                self._pause(pause, waited)
                waited, least = waited + pause, 2 * least
            except error.AuthorizationError as refused:
                if refused.status == http.HTTPStatus.FORBIDDEN and method in ("PUT", "DELETE"):
                    raise
                raise self.trouble(refused.status or 401, method) from None
            except Exception as trouble:
                raise self._said(trouble_words(trouble, TIMEOUT_S)) from None
        return self._read(answer, read)

    def _read(self, answer: DAVResponse, read: Callable[[DAVResponse], T]) -> T:
        """Return what is made of an answer; raises as `ask`."""
        try:
            # What has come is read, though the time of the run may be over.
            return self._workers.do(partial(read, answer), MOST_REQUEST_S)
        except CalendarServerError:
            raise
        except TookTooLongError:
            raise self._said(
                "sends an answer that takes too long to read; check the address, or keep the door "
                "times in a calendar of their own"
            ) from None
        except MemoryError as trouble:
            raise self._said(trouble_words(trouble, TIMEOUT_S)) from None
        except Exception:
            # The library trusts that an answer makes sense.
            raise self.not_caldav() from None

    def not_caldav(self) -> CalendarServerError:
        """Return what is said of an answer that makes no sense."""
        return self._said(NOT_CALDAV)

    def check_multistatus(self, answer: DAVResponse, method: str) -> None:
        """Refuse an answer that is no whole list of WebDAV (RFC 4918, 13).

        A page of the web would otherwise pass for an empty list.
        """
        if answer.status != http.HTTPStatus.MULTI_STATUS:
            raise self.trouble(answer.status, method)
        known = (dav.MultiStatus.tag, dav.Response.tag)
        if answer.tree is None or next(answer.tree.iter(*known), None) is None:
            raise self.not_caldav()

    def trouble(self, status: int, method: str) -> CalendarServerError:
        """Return what is said of a status other than the hoped-for, with the remedy."""
        if status != http.HTTPStatus.UNAUTHORIZED:
            return self._said(status_words(status, method))
        if self.login is None:
            return self._said(f"asks for a login, and none was found: {how_to_log_in(self.origin)}")
        return self._said(
            f"refused the login of {self.login.user} (from {self.login.source}); check name and "
            "password"
        )

    def _pause(self, pause: float, waited: float) -> None:
        """Wait for a server that is busy.

        Raises
        ------
        CalendarServerError
            If it asks for more than it gets, or if the run is stopped meanwhile.
        """
        if pause > MOST_WAIT_S:
            asked = duration_text(math.ceil(pause / 60))
            raise self._said(f"is busy and asks to wait {asked}; run again then")
        if waited + pause > MOST_WAIT_S:
            raise self._said(f"was busy for {waited:.0f} s and still is; run again later")
        if self.stop.wait(pause):
            raise self._said("stopped")

    def _run_is_over(self) -> CalendarServerError:
        return self._said(
            f"is so slow that the sync was ended after {MOST_RUN_S / 60:g} min; run it again"
        )

    def _said(self, words: str) -> CalendarServerError:
        return CalendarServerError(f"{self.origin}: {words}")

"""What is said of a server that fails: one sentence for each trouble, with what to do.

None of them repeats what the server or a library printed.
"""

from __future__ import annotations

import http
import re

import niquests
from caldav.lib import error
from lxml import etree

_PHRASES = {status.value for status in http.HTTPStatus}
_WRITING = ("PUT", "DELETE", "MKCALENDAR")
# The kind of error is the same as for an answer that is none.
_BROKEN_OFF = re.compile("closed connection|connection (aborted|broken|reset)", re.IGNORECASE)
_CHECK = "check the address and the network"
_STAYS = "run again later, and if it stays so, tell whoever runs that server"

NOT_CALDAV = "does not answer as a calendar server (CalDAV) there; check the address"


def trouble_words(trouble: Exception, silent_s: float) -> str:
    """Return what is said of whatever the libraries on the way to a server raise.

    Parameters
    ----------
    trouble
        Of any kind.
    silent_s
        How long the server could stay silent [s].
    """
    # The HTTP library wraps what is raised below it.
    cause = trouble.args[0] if trouble.args else trouble
    cause = getattr(cause, "reason", None) or cause
    causes = {kind.__name__ for kind in type(cause).__mro__}
    match trouble:
        case MemoryError():
            return (
                "sends more than the memory of this machine holds; check the address, or keep the "
                "door times in a calendar of their own"
            )
        case NotImplementedError():
            return "asks for a kind of login that is not known here (known are Basic and Digest)"
        case UnicodeEncodeError():
            return (
                "asks for a kind of login that takes letters of Western Europe only, and the name "
                "of this login has others; take another name there"
            )
        case etree.XMLSyntaxError() | error.DAVError():
            return NOT_CALDAV
        case niquests.exceptions.SSLError():
            return (
                "its certificate or encryption cannot be trusted, so nothing was sent; check the "
                "address, and the server's certificate"
            )
    if isinstance(trouble, niquests.exceptions.Timeout) or "ReadTimeoutError" in causes:
        return f"did not answer within {silent_s} s; try again later"
    if "NameResolutionError" in causes:
        return f"there is no such server; {_CHECK}"
    if causes & {"NewConnectionError", "ProxyError"}:
        return f"cannot be reached; {_CHECK}"
    if "IncompleteRead" in causes or _BROKEN_OFF.search(str(trouble)):
        return f"closed the line before its answer was whole; {_STAYS}"
    # The kind is for whoever looks into it.
    return f"sends an answer that cannot be read ({type(trouble).__name__}); {_STAYS}"


def status_words(status: int, method: str) -> str:
    """Return what is said of a status other than the hoped-for; not of 401."""
    writing = method in _WRITING
    phrase = f"{status} {http.HTTPStatus(status).phrase}" if status in _PHRASES else f"{status}"
    if status == http.HTTPStatus.FORBIDDEN and writing:
        return (
            "does not let you write there: the calendar is read-only for this login, or the "
            "server takes no such entries; name a calendar that you may change"
        )
    if status == http.HTTPStatus.FORBIDDEN:
        return "does not let this login read there; check the address and whose login it is"
    if status in (404, 410):
        return (
            "there is no such calendar; check the address, or write that of your account and "
            'calendar = "NAME" under [sync] to have it made'
        )
    if status == http.HTTPStatus.INSUFFICIENT_STORAGE:
        return "has no room left (507); make room there, and run again"
    if status >= http.HTTPStatus.INTERNAL_SERVER_ERROR and status != 501:
        return f"has trouble of its own ({phrase}); run again later"
    return f"did not take what was sent ({phrase})" if writing else NOT_CALDAV

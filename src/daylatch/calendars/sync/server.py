"""Calendars on a server: CalDAV (RFC 4791), by the library `caldav`."""

from __future__ import annotations

import http
import re
import uuid
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple
from urllib.parse import quote, urljoin, urlsplit

from caldav.elements import cdav, dav
from caldav.lib import error
from lxml import etree

from daylatch.calendars.sync.content import Found, read_found
from daylatch.calendars.sync.sending import ChangedMeanwhileError
from daylatch.errors import CalendarServerError

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable, Mapping

    from caldav.response import DAVResponse

    from daylatch.calendars.sync.connection import Connection

_CALENDAR = "{urn:ietf:params:xml:ns:caldav}calendar"
_COMPONENTS = "{urn:ietf:params:xml:ns:caldav}supported-calendar-component-set"
_HOME = "{urn:ietf:params:xml:ns:caldav}calendar-home-set"
_ICALENDAR = {"Content-Type": "text/calendar; charset=utf-8"}
_NAMES = uuid.UUID("5a3a6c0e-0d52-4a0c-8f0e-0c7d0a2f8a11")


@dataclass(frozen=True)
class Collection:
    """A calendar on the server.

    Attributes
    ----------
    url : str
        Ends in a slash.
    name : str
        As readers show it; may be empty.
    exists : bool
        Whether it is there already.
    """

    url: str
    name: str
    exists: bool = True


class _Place(NamedTuple):
    """What a server says of an address: its own spelling of it, and what is there."""

    url: str
    name: str
    is_calendar: bool
    components: tuple[str, ...]
    home: str
    principal: str


class Account:
    """The calendars that a login leads to."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection

    def locate(self, url: str, name: str | None) -> Collection:
        """Find the calendar.

        Parameters
        ----------
        url
            The calendar's own address; with a name, that of an account, or of a server that knows
            whose account it is.
        name
            As readers show it.

        Returns
        -------
        Collection
            With a name, it may not exist yet.

        Raises
        ------
        CalendarServerError
            If there is no such calendar, or more than one.
        """
        places = self._places(url, 0)
        if not places:
            raise self._connection.not_caldav()
        here = places[0]
        if name is None:
            if not here.is_calendar:
                raise CalendarServerError(
                    f'{url}: is not a calendar; add calendar = "NAME" under [sync] to find or make '
                    "one in this account, or write the calendar's own address"
                )
            _check_takes_events(url, here)
            return Collection(_folder(url), here.name)
        if here.is_calendar:
            raise CalendarServerError(
                f"{url}: is itself a calendar; take `calendar` out from under [sync] (or leave "
                "--calendar out), or write the address of your account"
            )
        return self._named(self._home(url, here), name)

    def make(self, collection: Collection, description: str) -> None:
        """Make a calendar."""
        properties = _element(
            dav.Prop(),
            dav.DisplayName(collection.name),
            cdav.CalendarDescription(description),
            _element(cdav.SupportedCalendarComponentSet(), cdav.Comp("VEVENT")),
        )
        wish = _element(cdav.Mkcalendar(), _element(dav.Set(), properties))
        status = self._connection.ask("MKCALENDAR", collection.url, _status, _xml(wish))
        if status not in (200, 201, 207):
            raise self._connection.trouble(status, "MKCALENDAR")

    def _home(self, url: str, here: _Place) -> str:
        """Return the folder of calendars of an account."""
        if not here.home and here.principal:
            url = here.principal
            here = next(iter(self._places(url, 0)), here)
        return _folder(here.home or url)

    def _named(self, home: str, name: str) -> Collection:
        """Return the calendar of this name, or where it would be made."""
        own = _folder(urljoin(home, f"daylatch-{uuid.uuid5(_NAMES, name)}"))
        found = set()
        for place in self._places(home, 1):
            # Some servers do not take the name of a calendar that is made.
            if place.is_calendar and (place.name == name or place.url == own):
                found.add(Collection(place.url, name))
                _check_takes_events(place.url, place)
        if len(found) > 1:
            raise CalendarServerError(
                f'{home}: holds {len(found)} calendars named "{name}"; write the address of the '
                "one you mean, and take `calendar` out from under [sync]"
            )
        return found.pop() if found else Collection(own, name, exists=False)

    def _places(self, url: str, depth: int) -> list[_Place]:
        """Return what stands at an address, and with a depth of one what stands in it."""
        wanted = _element(
            dav.Prop(),
            dav.ResourceType(),
            dav.DisplayName(),
            dav.CurrentUserPrincipal(),
            cdav.CalendarHomeSet(),
            cdav.SupportedCalendarComponentSet(),
        )

        def read(answer: DAVResponse) -> list[_Place]:
            self._connection.check_multistatus(answer, "PROPFIND")
            return [_place(url, one.href, one.properties) for one in answer.parse_propfind()]

        query = _xml(_element(dav.Propfind(), wanted))
        return self._connection.ask("PROPFIND", url, read, query, {"Depth": str(depth)})


class RemoteCalendar:
    """One calendar on the server, and what may be done with its entries."""

    def __init__(self, connection: Connection, collection: Collection) -> None:
        self._connection = connection
        self._collection = collection

    def entries(self, first: dt.datetime, last: dt.datetime) -> list[Found]:
        """Return the entries between two instants, of whomever, by one request."""
        return self._query(cdav.TimeRange(first, last))

    def entries_named(self, uids: Iterable[str]) -> list[Found]:
        """Return what stands where these entries would be put, by one request."""
        wanted = [dav.Href(value=urlsplit(_object_url(self._collection, uid)).path) for uid in uids]
        query = _element(cdav.CalendarMultiGet(), _content(), *wanted)

        def read(answer: DAVResponse) -> list[Found]:
            return [] if answer.status == http.HTTPStatus.NOT_FOUND else self._found(answer)

        return self._connection.ask("REPORT", self._collection.url, read, _xml(query))

    def entry(self, uid: str, found: Found | None) -> Found | None:
        """Return an entry as it is now; None if it is gone."""
        url = found.url if found else _object_url(self._collection, uid)

        def read(answer: DAVResponse) -> tuple[bool, Found | None]:
            if answer.status == http.HTTPStatus.OK:
                return True, read_found(url, _etag(answer.headers.get("ETag")), answer.raw)
            if answer.status not in (404, 410):
                raise self._connection.trouble(answer.status, "GET")
            return False, None

        there, now = self._connection.ask("GET", url, read)
        if there or found is not None:
            return now
        # Somebody put it at an address of their own.
        named = self._query(_element(cdav.PropFilter("UID"), cdav.TextMatch(uid)))
        return next((entry for entry in named if entry.uid == uid), None)

    def add(self, uid: str, content: bytes) -> None:
        """Put a new entry.

        Raises
        ------
        ChangedMeanwhileError
            If there is one already.
        """
        self._write("PUT", _object_url(self._collection, uid), content, {"If-None-Match": "*"})

    def change(self, found: Found, content: bytes) -> None:
        """Replace an entry, at the server's own address of it.

        Raises
        ------
        ChangedMeanwhileError
            If it is no longer what was found.
        """
        self._write("PUT", found.url, content, self._unless_changed(found))

    def remove(self, found: Found) -> None:
        """Remove an entry; one that is gone already is no trouble.

        Raises
        ------
        ChangedMeanwhileError
            If it is no longer what was found.
        """
        self._write("DELETE", found.url, b"", self._unless_changed(found))

    def _unless_changed(self, found: Found) -> dict[str, str]:
        """Return what makes a request fail if the object is no longer what was found.

        Where no version does that, the object is read once more.
        """
        if found.etag:
            return {"If-Match": found.etag}
        now = self.entry(found.uid, found)
        if now is None or now.digest != found.digest:
            raise ChangedMeanwhileError
        return {}

    def _write(self, method: str, url: str, content: bytes, headers: Mapping[str, str]) -> None:
        try:
            status, reasons = self._connection.ask(
                method, url, _status_and_reasons, content, {**_ICALENDAR, **headers}
            )
        except error.AuthorizationError as trouble:
            if error.UID_CONFLICT_PRECONDITIONS.intersection(trouble.preconditions):
                raise ChangedMeanwhileError from trouble
            raise self._connection.trouble(403, method) from None
        gone = status in (404, 410)
        if status in (200, 201, 204) or (gone and method == "DELETE"):
            return
        if status == http.HTTPStatus.PRECONDITION_FAILED or (
            error.UID_CONFLICT_PRECONDITIONS.intersection(reasons)
        ):
            raise ChangedMeanwhileError
        raise self._connection.trouble(status, method)

    def _query(self, condition: Any) -> list[Found]:
        events = _element(
            cdav.CompFilter("VCALENDAR"), _element(cdav.CompFilter("VEVENT"), condition)
        )
        query = _element(cdav.CalendarQuery(), _content(), _element(cdav.Filter(), events))
        return self._connection.ask(
            "REPORT", self._collection.url, self._found, _xml(query), {"Depth": "1"}
        )

    def _found(self, answer: DAVResponse) -> list[Found]:
        """Return the entries of an answer."""
        self._connection.check_multistatus(answer, "REPORT")
        found = []
        for one in answer.parse_calendar_query():
            if one.calendar_data:
                url = urljoin(self._collection.url, quote(one.href))
                found.append(read_found(url, _etag(one.etag), one.calendar_data))
        return [entry for entry in found if entry is not None]


def _place(url: str, href: str, props: Mapping[str, Any]) -> _Place:
    """Return what the properties of an address say, with every address in full."""
    home = _list(props.get(_HOME))
    principal = props.get("{DAV:}current-user-principal")
    return _Place(
        _folder(urljoin(url, quote(href))),
        str(props.get("{DAV:}displayname") or ""),
        _CALENDAR in _list(props.get("{DAV:}resourcetype")),
        tuple(_list(props.get(_COMPONENTS))),
        urljoin(url, home[0]) if home else "",
        urljoin(url, str(principal)) if principal else "",
    )


def _check_takes_events(url: str, place: _Place) -> None:
    if place.components and "VEVENT" not in place.components:
        raise CalendarServerError(f"{url}: takes no events; name another calendar")


def _status(answer: DAVResponse) -> int:
    return answer.status


def _status_and_reasons(answer: DAVResponse) -> tuple[int, list[str]]:
    """Return the status, and why a request was refused (RFC 4918, 16)."""
    refusal = b"" if answer.tree is None else etree.tostring(answer.tree)
    return answer.status, error.parse_preconditions(refusal)


def _content() -> Any:
    return _element(dav.Prop(), dav.GetEtag(), cdav.CalendarData())


def _element(element: Any, *children: Any) -> Any:
    for child in children:
        element.append(child)
    return element


def _xml(element: Any) -> Any:
    return etree.tostring(element.xmlelement(), encoding="utf-8", xml_declaration=True)


def _list(value: Any) -> list[str]:
    """Return a property's value, of which the library makes a list or not, as a list."""
    if value is None:
        return []
    return [str(one) for one in value] if isinstance(value, list) else [str(value)]


def _folder(url: str) -> str:
    return url if url.endswith("/") else f"{url}/"


def _object_url(collection: Collection, uid: str) -> str:
    return urljoin(collection.url, f"{quote(uid, safe='')}.ics")


def _etag(text: Any) -> str:
    """Return a version that a condition can name; empty if it is none.

    A weak one never matches (RFC 9110, 13.1.1), and one with letters beyond ASCII (8.8.3) reaches
    the server in another encoding than it came in, if it can be sent at all.
    """
    version = str(text or "").strip()
    return version if re.fullmatch(r'"[\x21\x23-\x7e]*"', version) else ""

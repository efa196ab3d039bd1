"""The guests of a house, in a file beside the site file.

Of links and cookies only digests are kept: who reads the file cannot come in by it. The command
that invites and a home that runs may write at the same time, so whoever changes the file holds a
lock, and changes what stands there then. A file that is taken away is an end of all invitations.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from contextlib import contextmanager
from dataclasses import replace
from typing import TYPE_CHECKING

from daylatch.errors import DaylatchError, OutputError, SecretsError, UsageError
from daylatch.files.put import put
from daylatch.home.guests.guest import LINK_LASTS, Guest, May, check_guest_name, is_called
from daylatch.home.guests.kept import (
    KEY_BYTES,
    MOST_GUESTS,
    Entry,
    Kept,
    KeptError,
    kept_text,
    read_kept,
)
from daylatch.home.private import read_private
from daylatch.site.messages import show_value

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Iterator
    from pathlib import Path

    import numpy as np

__all__ = ["GUESTS_ENDING", "LOOPBACK", "Guest", "GuestBook", "May", "digest_of"]

GUESTS_ENDING = ".guests"
LOOPBACK = "loopback"
"""Who holds the forms of pages that are shown on the computer itself."""
_MOST_BYTES = 1_000_000
_WAIT_S = 5.0
_NO_WAIT_S = 0.0
_Stamp = tuple[int, ...]


def digest_of(secret: str) -> str:
    """Return by what a link's token or a cookie is known, in hexadecimal digits."""
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()


class GuestBook:
    """Who may see a house.

    Parameters
    ----------
    path
        Of the file; there may be none yet.
    house
        The id of the house.
    """

    def __init__(self, path: Path, house: str) -> None:
        self.path = path
        self.house = house
        self._known: tuple[_Stamp, Kept] | None = None
        self._own_key: bytes | None = None

    def invite(self, name: str, may: May, now_utc: np.datetime64) -> str:
        """Invite somebody; return the token of a link by which they can join, once.

        Raises
        ------
        UsageError
            If they cannot be called so, or somebody is.
        SecretsError, OutputError
            If the file cannot be used, or not be written.
        """
        try:
            check_guest_name(name)
        except ValueError as error:
            raise UsageError(f"a guest cannot be called {show_value(name)}: {error}") from error
        token = secrets.token_urlsafe(32)
        guest = Guest(name, may, now_utc, ends_utc=now_utc + LINK_LASTS)

        def add(kept: Kept) -> Kept:
            entries = [entry for entry in kept.entries if _counts(entry.guest, now_utc)]
            for entry in entries:
                if is_called(entry.guest, name):
                    raise UsageError(
                        f"{show_value(entry.guest.name)} is invited already: give another name, or "
                        "revoke that one first with --guests --revoke"
                    )
            if len(entries) >= MOST_GUESTS:
                raise UsageError(
                    f"{MOST_GUESTS} guests are invited already, and no more can be: revoke one "
                    "with --guests --revoke"
                )
            return replace(kept, entries=(*entries, Entry(guest, link=digest_of(token))))

        self._change(add)
        return token

    def invited(self, token: str, now_utc: np.datetime64) -> Guest | None:
        """Return whom a link invites, without using it up; None if it is none, or no longer one.

        Raises
        ------
        SecretsError
            If the file cannot be used.
        """
        entry = _with_link(self._now(), digest_of(token), now_utc)
        return None if entry is None else entry.guest

    def join(self, token: str, now_utc: np.datetime64) -> str | None:
        """Use a link up; return the secret for the guest's cookie, None if the link is none.

        Of two who use it at once, one gets the secret.

        Raises
        ------
        SecretsError, OutputError
            If the file cannot be used, or not be written.
        """
        cookie = secrets.token_urlsafe(32)
        has_joined = False

        def let_in(kept: Kept) -> Kept:
            nonlocal has_joined
            entry = _with_link(kept, digest_of(token), now_utc)
            if entry is None:
                return kept
            has_joined = True
            guest = replace(entry.guest, joined_utc=now_utc, seen_utc=now_utc, ends_utc=None)
            return _with(kept, entry, Entry(guest, cookie=digest_of(cookie)))

        self._change(let_in)
        return cookie if has_joined else None

    def guest_of(self, cookie: str, now_utc: np.datetime64) -> Guest | None:
        """Return whose cookie a secret is, and note that they came; None if it is nobody's.

        Raises
        ------
        SecretsError
            If the file cannot be used.
        """
        entry = _with_cookie(self._now(), digest_of(cookie), now_utc)
        if entry is None:
            return None
        if _day_of(entry.guest.seen_utc) != _day_of(now_utc):
            self._note_seen(cookie, now_utc)
        return entry.guest

    def guests(self, now_utc: np.datetime64) -> list[Guest]:
        """Return the guests that can come in, or still join, in the order of their invitations.

        Raises
        ------
        SecretsError
            If the file cannot be used.
        """
        guests = [entry.guest for entry in self._now().entries]
        return [guest for guest in guests if _counts(guest, now_utc)]

    def revoke(self, name: str) -> None:
        """Take back an invitation, and whatever it brought.

        Raises
        ------
        UsageError
            If nobody is called so.
        SecretsError, OutputError
            If the file cannot be used, or not be written.
        """

        def take_out(kept: Kept) -> Kept:
            left = tuple(entry for entry in kept.entries if not is_called(entry.guest, name))
            if left == kept.entries:
                raise UsageError(
                    f"no guest is called {show_value(name)}: `daylatch home --guests` lists them"
                )
            return replace(kept, entries=left)

        self._change(take_out)

    def form_token(self, holder: str) -> str:
        """Return what a form carries so that it is known to come from a page of this home.

        It holds beyond a restart. Where no file can be made, it holds for this run.

        Parameters
        ----------
        holder
            For whom the page is: the digest of a cookie, or `LOOPBACK`.
        """
        return hmac.new(self._form_key(), holder.encode(), hashlib.sha256).hexdigest()

    def is_form_token(self, holder: str, given: str) -> bool:
        """Return whether a form of somebody's carries its token."""
        return hmac.compare_digest(self.form_token(holder).encode(), given.encode(errors="replace"))

    def _form_key(self) -> bytes:
        try:
            kept = self._now()
            if kept.form_key is None and self._own_key is None:
                self._change(lambda kept: kept)
                kept = self._now()
            if kept.form_key is not None:
                return kept.form_key
        except DaylatchError:
            # The keeper at the computer itself needs no file.
            pass
        if self._own_key is None:
            self._own_key = secrets.token_bytes(KEY_BYTES)
        return self._own_key

    def _note_seen(self, cookie: str, now_utc: np.datetime64) -> None:
        def note(kept: Kept) -> Kept:
            entry = _with_cookie(kept, digest_of(cookie), now_utc)
            if entry is None:
                return kept
            return _with(kept, entry, replace(entry, guest=replace(entry.guest, seen_utc=now_utc)))

        try:
            self._change(note, _NO_WAIT_S)
        except DaylatchError:
            # It is noted when they come again.
            return

    def _now(self) -> Kept:
        """Return what the file holds now; it is read again when it has changed."""
        known = self._known
        if known is not None and known[0] == self._stamp_now():
            return known[1]
        found = self._read()
        if found is None:
            return Kept()
        self._known = found
        return found[1]

    def _stamp_now(self) -> _Stamp | None:
        try:
            return _stamp_of(self.path.stat())
        except OSError:
            return None

    def _read(self) -> tuple[_Stamp, Kept] | None:
        remedy = f"delete it, and invite anew (`rm {self.path}`)"
        found = read_private(self.path, _MOST_BYTES, remedy)
        if found is None:
            return None
        status, content = found
        try:
            return _stamp_of(status), read_kept(content, self.house)
        except KeptError as error:
            raise SecretsError(f"{self.path}: {error}: move it away, and invite anew") from error

    def _change(self, change: Callable[[Kept], Kept], wait_s: float = _WAIT_S) -> None:
        """Change what the file holds, as it is when nobody else changes it."""
        with _locked(self.path, wait_s):
            found = self._read()
            kept = Kept() if found is None else found[1]
            changed = change(kept)
            if changed.form_key is None:
                changed = replace(changed, form_key=secrets.token_bytes(KEY_BYTES))
            if changed != kept:
                put(self.path.resolve(), kept_text(changed, self.house), private=True)


def _counts(guest: Guest, now_utc: np.datetime64) -> bool:
    return guest.can_join(now_utc) or guest.can_come(now_utc)


def _with_link(kept: Kept, digest: str, now_utc: np.datetime64) -> Entry | None:
    # All are compared, so that the time tells nothing.
    found = [one for one in kept.entries if one.link and hmac.compare_digest(one.link, digest)]
    return next((one for one in found if one.guest.can_join(now_utc)), None)


def _with_cookie(kept: Kept, digest: str, now_utc: np.datetime64) -> Entry | None:
    found = [one for one in kept.entries if one.cookie and hmac.compare_digest(one.cookie, digest)]
    return next((one for one in found if one.guest.can_come(now_utc)), None)


def _with(kept: Kept, before: Entry, after: Entry) -> Kept:
    """Return what is kept with one entry in the place of another."""
    entries = tuple(after if entry is before else entry for entry in kept.entries)
    return replace(kept, entries=entries)


def _day_of(instant_utc: np.datetime64 | None) -> np.datetime64 | None:
    return None if instant_utc is None else instant_utc.astype("datetime64[D]")


def _stamp_of(status: os.stat_result) -> _Stamp:
    return status.st_mtime_ns, status.st_size, status.st_mode, status.st_uid, status.st_ino


@contextmanager
def _locked(path: Path, wait_s: float) -> Iterator[None]:
    """Hold the lock of a file.

    Raises
    ------
    OutputError
        If another process holds it for longer, or there can be no lock.
    """
    import filelock  # noqa: PLC0415 - an extra

    lock = filelock.FileLock(path.with_name(f"{path.name}.lock"), timeout=wait_s)
    try:
        lock.acquire()
    except filelock.Timeout as error:
        raise OutputError(
            f"{path}: is being changed by another daylatch; nothing was changed: try again"
        ) from error
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise OutputError(
            f"{path}: cannot be locked ({why}); nothing was changed: look at the folder's rights"
        ) from error
    try:
        yield
    finally:
        lock.release()

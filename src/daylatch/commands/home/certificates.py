"""The certificate by which the home is encrypted: until when it holds, and a renewed one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from daylatch.commands.now import warn
from daylatch.errors import HomeError
from daylatch.home.server.serving import tls_context

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path


class Certificate:
    """A certificate and its key, which may be renewed while the home runs.

    Parameters
    ----------
    certificate, key
        Their files.

    Raises
    ------
    HomeError
        If they cannot be used.
    """

    def __init__(self, certificate: Path, key: Path) -> None:
        self.files = certificate, key
        self._stamp = self._stamp_now()
        self.context = tls_context(*self.files)

    def renew(self) -> None:
        """Encrypt new connections by the files as they are now, if they have changed."""
        stamp = self._stamp_now()
        if stamp == self._stamp:
            return
        self._stamp = stamp
        try:
            # Tried by itself first: half a change must not spoil what works.
            tls_context(*self.files)
            self.context.load_cert_chain(*self.files)
        except (HomeError, OSError) as error:
            warn(f"the certificate was changed, and the one before is used on: {error}")

    def _stamp_now(self) -> list[int]:
        try:
            return [file.stat().st_mtime_ns for file in self.files]
        except OSError:
            return []


def last_date_of(path: Path) -> dt.date | None:
    """Return the last date (UTC) on which a certificate holds; None if that cannot be read."""
    from cryptography.x509 import load_pem_x509_certificate  # noqa: PLC0415 - an extra

    try:
        certificate = load_pem_x509_certificate(path.read_bytes())
    except (OSError, ValueError):
        return None
    return certificate.not_valid_after_utc.date()

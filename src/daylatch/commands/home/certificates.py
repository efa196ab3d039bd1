"""Until when a certificate holds."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path


def last_date_of(path: Path) -> dt.date | None:
    """Return the last date (UTC) on which a certificate holds; None if that cannot be read."""
    from cryptography.x509 import load_pem_x509_certificate  # noqa: PLC0415 - an extra

    try:
        certificate = load_pem_x509_certificate(path.read_bytes())
    except (OSError, ValueError):
        return None
    return certificate.not_valid_after_utc.date()

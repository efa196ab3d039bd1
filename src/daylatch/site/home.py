"""The table of the site file that says where `daylatch home` listens.

A file of its own because most runs of the program need none of it.
"""

from __future__ import annotations

import ipaddress
from typing import TYPE_CHECKING, Annotated, Any, ClassVar

from pydantic import AfterValidator, BeforeValidator, Field

from daylatch.console import printable
from daylatch.site.messages import show_value, told_text
from daylatch.site.table import ONE_LINE, Table, empty_list, is_host
from daylatch.site.values.web_address import origin_of
from daylatch.wording import listed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from daylatch.site.values.ways import Ways

LOOPBACK = "127.0.0.1"
PORT = 8734


def _ip(text: str) -> str:
    try:
        return str(ipaddress.ip_address(text))
    except ValueError:
        raise ValueError(
            f'write the address of a network card, such as "{LOOPBACK}" for this computer alone, '
            'or "0.0.0.0" for all'
        ) from None


def _base(value: Any) -> Any:
    if not isinstance(value, str):
        return value
    try:
        origin_of(value)
    except ValueError:
        value = ""
    if not value or "?" in value:
        raise ValueError(
            "write the address by which phones reach this computer, like "
            "https://hens.example.org, without a login and a question mark"
        )
    return value.rstrip("/")


def _proxy(text: str) -> str:
    try:
        return str(ipaddress.ip_address(text))
    except ValueError:
        raise ValueError('write the address of the proxy, like "127.0.0.1"') from None


def _host(text: str) -> str:
    if not is_host(text):
        raise ValueError(
            f'{show_value(text)} is no name of a computer: write one like "hens.example.org", '
            "without https:// and without a port"
        )
    return text.lower()


Ip = Annotated[str, Field(max_length=60), AfterValidator(_ip)]
ProxyIp = Annotated[str, Field(max_length=60), AfterValidator(_proxy)]
Host = Annotated[str, Field(max_length=253), AfterValidator(_host)]
FileName = Annotated[str, Field(min_length=1, max_length=400), ONE_LINE]


class Home(Table):
    """Where `daylatch home` listens."""

    ABOUT: ClassVar[str] = (
        "Where `daylatch home` listens for reports of the door, and how phones find it."
    )
    EXAMPLES: ClassVar[dict[str, Any]] = {
        "url": "https://hens.example.org",
        "certificate": "hens.pem",
        "key": "hens.key",
    }

    address: Ip = Field(
        LOOPBACK, description="At which address; of this computer alone if left out."
    )
    port: Annotated[int, Field(ge=0, le=65535)] = Field(
        PORT, description="At which port; 0 for any that is free."
    )
    url: Annotated[str, BeforeValidator(_base)] | None = Field(
        None,
        description="How phones reach it, for the links in messages; without it they have none.",
    )
    hosts: list[Host] = Field(
        default_factory=empty_list,
        description="By which names it may be asked, besides its address and that of url.",
    )
    proxies: list[ProxyIp] = Field(
        default_factory=empty_list,
        description="Addresses of proxies before it, which are believed when they say for whom "
        "they ask.",
    )
    certificate: FileName | None = Field(
        None, description="File with its certificate (PEM), for https; beside the site file."
    )
    key: FileName | None = Field(None, description="File with the certificate's key (PEM).")

    @property
    def is_loopback(self) -> bool:
        """Whether only this computer can reach it."""
        return ipaddress.ip_address(self.address).is_loopback

    def told(self, ways: Ways) -> Iterator[str]:
        """Yield what it says in a keeper's words."""
        host = f"[{self.address}]" if ":" in self.address else self.address
        yield f"listens at {host}:{self.port}"
        for key in ("certificate", "key"):
            if (name := getattr(self, key)) is not None:
                yield f"{key} in {told_text(name)}"
        if self.url is not None:
            yield f"phones reach it at {printable(self.url)}"
        if self.hosts:
            yield f"also asked as {listed(self.hosts)}"
        if self.proxies:
            yield f"behind {listed(self.proxies)}"

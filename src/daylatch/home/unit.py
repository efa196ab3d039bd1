"""A systemd unit for `daylatch home`, with as few rights as it needs (systemd.exec(5))."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from daylatch.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

_UNIT = """\
# Made by `daylatch home --print-unit`. Put it into /etc/systemd/system/daylatch-home.service, then:
#   systemctl daemon-reload
#   systemctl enable --now daylatch-home
[Unit]
Description=daylatch home: reports of the door, and alarms
Wants=network-online.target time-sync.target
After=network-online.target time-sync.target
StartLimitIntervalSec=0

[Service]
Type=exec
User={user}
ExecStart={command}
WorkingDirectory={folder}
Restart=always
RestartSec=20
UMask=0077
MemoryMax=300M
TasksMax=100
LimitNOFILE=1024

# It reads the system and writes beside the site files, and nothing else.
ProtectSystem=strict
ProtectHome={protect_home}
{writable}
PrivateTmp=yes
PrivateDevices=yes
NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
ProtectClock=yes
ProtectControlGroups=yes
ProtectHostname=yes
ProtectKernelLogs=yes
ProtectKernelModules=yes
ProtectKernelTunables=yes
ProtectProc=invisible
ProcSubset=pid
RestrictAddressFamilies=AF_INET AF_INET6 AF_UNIX
RestrictNamespaces=yes
RestrictRealtime=yes
RestrictSUIDSGID=yes
RemoveIPC=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM

[Install]
WantedBy=multi-user.target
"""
_REFUSED = set('"\\\n\r%$')


def unit_text(
    pythons: Sequence[Path], sites: Sequence[Path], diaries: Sequence[Path], user: str
) -> str:
    """Return the unit.

    Parameters
    ----------
    pythons
        What runs the program, and further places that it needs for that.
    sites
        The site files, with whole paths.
    diaries
        The folders of their diaries.
    user
        Whose they are.

    Raises
    ------
    UsageError
        If a path, or the user, has a character that a unit reads as something else.
    """
    for path in (*pythons, *sites, *diaries):
        if _REFUSED & set(str(path)):
            raise UsageError(
                f'{path}: a unit cannot have ", \\, % or $ in a path: move the file elsewhere'
            )
    if not re.fullmatch(r"[A-Za-z_][A-Za-z0-9_.-]*", user, re.ASCII):
        raise UsageError("the user's name cannot stand in a unit: run it as another")
    folders = list(dict.fromkeys((*(path.parent for path in sites), *diaries)))
    needed = (*pythons, *folders)
    in_home = any(_is_in_home(path) or _is_in_home(path.resolve()) for path in needed)
    return _UNIT.format(
        user=user,
        command=" ".join(
            [_quoted(pythons[0]), "-m", "daylatch", "home", *(_quoted(path) for path in sites)]
        ),
        folder=folders[0],
        protect_home="read-only" if in_home else "yes",
        writable="\n".join(f"ReadWritePaths={_quoted(folder)}" for folder in folders),
    )


def _quoted(path: Path) -> str:
    return f'"{path}"'


def _is_in_home(path: Path) -> bool:
    return len(path.parts) > 1 and path.parts[1] in {"home", "root", "run"}

"""The systemd units of an installed appliance, made as text.

Two services, so that each can die and come back without the other, and a target that starts and
stops both. What each may do is taken from what it does: the engine has pins and a logbook but no
network, the screen has a network but no pins. ``tests/install`` has systemd judge them.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping

from firmware_py.install.places import (
    CURRENT,
    DATA,
    ENGINE_UNIT,
    LAYOUT,
    SCREEN_UNIT,
    TARGET_UNIT,
    USER,
    Box,
)

ENGINE_MEMORY = "160M"
SCREEN_MEMORY = "320M"
"""Well above what they take (see ``python -m tests.bench``): a leak ends here, not in the Pi."""
TASKS = 64
WATCHDOG_S = 20

PRIVATE_NETWORKS = "10.0.0.0/8 172.16.0.0/12 192.168.0.0/16 fc00::/7 link-local"
"""Where phones of a home are (RFC 1918, RFC 4193): nobody farther off is answered."""

_COMMON = f"""\
User={USER}
Group={USER}
StateDirectory={DATA.name}
StateDirectoryMode=0750
UMask=0077
RuntimeDirectoryPreserve=restart

# Never give up, but wait longer after each fall (the command itself does that, as it begins).
Type=notify
NotifyAccess=main
Restart=always
RestartSec=500ms
TimeoutStartSec=120s
TimeoutStopSec=10s
WatchdogSec={WATCHDOG_S}s
# One that hangs hears nothing; killed, it lets go of its lines at once.
WatchdogSignal=SIGKILL
LimitCORE=0
KillMode=control-group

LogRateLimitIntervalSec=60s
LogRateLimitBurst=200

# A system that it can only read, but for its own folder. No RemoveIPC: how an engine fares is told
# in /dev/shm, and must outlast it.
ProtectSystem=strict
ProtectHome=yes
PrivateTmp=yes
PrivateMounts=yes
ProtectProc=invisible
ProtectKernelTunables=yes
ProtectKernelModules=yes
ProtectKernelLogs=yes
ProtectControlGroups=yes
ProtectClock=yes
ProtectHostname=yes

NoNewPrivileges=yes
CapabilityBoundingSet=
AmbientCapabilities=
RestrictSUIDSGID=yes
RestrictNamespaces=yes
RestrictRealtime=yes
LockPersonality=yes
MemoryDenyWriteExecute=yes
KeyringMode=private
SystemCallArchitectures=native
SystemCallFilter=@system-service
SystemCallFilter=~@privileged @resources
SystemCallErrorNumber=EPERM
"""


def units(box: Box) -> Mapping[str, str]:
    """Every unit's text by its name."""
    return {ENGINE_UNIT: engine(box), SCREEN_UNIT: screen(box), TARGET_UNIT: target()}


def target() -> str:
    """Both services as one: ``systemctl stop spurlock.target`` stops them."""
    return f"""\
[Unit]
Description=Spurlock
Wants={ENGINE_UNIT} {SCREEN_UNIT}

[Install]
WantedBy=multi-user.target
"""


def engine(box: Box) -> str:
    """The engine: it owns the pins, and no network reaches it."""
    groups = " ".join(("gpio", *box.buses))
    devices = "\n".join(f"DeviceAllow=char-{name} rw" for name in ("gpiochip", *box.buses))
    return f"""\
{_head("Spurlock's engine: contacts, rules, lamps and log")}
[Service]
ExecStart={CURRENT}/bin/spurlock run {LAYOUT} --part engine
RuntimeDirectory=spurlock-engine
SyslogIdentifier=spurlock-engine
SupplementaryGroups={groups}

MemoryMax={ENGINE_MEMORY}
TasksMax={TASKS}
# The lamps are the last thing that may want for the processor or for memory.
CPUWeight=1000
OOMScoreAdjust=-500

# Of all devices, the chips that carry the layout's wires.
DevicePolicy=closed
{devices}
PrivateNetwork=yes
RestrictAddressFamilies=AF_UNIX
IPAddressDeny=any

{_COMMON}"""


def screen(box: Box) -> str:
    """The screen: it listens where phones are, and has no device of the machine's."""
    return f"""\
{_head("Spurlock's screen: the board in a browser")}
[Service]
ExecStart={CURRENT}/bin/spurlock run {LAYOUT} --part screen --host {box.host} --port {box.port}
RuntimeDirectory=spurlock-screen
SyslogIdentifier=spurlock-screen

MemoryMax={SCREEN_MEMORY}
TasksMax={TASKS}

PrivateDevices=yes
PrivateUsers=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6
IPAddressDeny=any
IPAddressAllow={_answered(box.host)}

{_COMMON}"""


def _head(description: str) -> str:
    return f"""\
[Unit]
Description={description}
PartOf={TARGET_UNIT}
StartLimitIntervalSec=0
"""


def _answered(host: str) -> str:
    """Whom the screen answers: itself, and a home's own networks if it listens there."""
    try:
        alone = ipaddress.ip_address(host).is_loopback
    except ValueError:
        alone = host.lower() == "localhost"
    return "localhost" if alone else f"localhost {PRIVATE_NETWORKS}"

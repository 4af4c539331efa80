"""The systemd units of an installed appliance, made as text.

Services, so that each can die and come back without the others, and a target that starts and
stops all. What each may do is taken from what it does: the engine has pins and a logbook but no
network, the screen has a network but no pins, a box's courier and a board host's gatherer reach
a broker and let nobody reach them. ``tests/install`` has systemd judge them.
"""

from __future__ import annotations

import ipaddress
from collections.abc import Iterable, Mapping

from firmware_py.install.places import (
    COURIER_UNIT,
    CURRENT,
    DATA,
    ENGINE_UNIT,
    GATHERER_UNIT,
    LAYOUT,
    SCREEN_UNIT,
    TARGET_UNIT,
    USER,
    Box,
    Club,
)

ENGINE_MEMORY = "160M"
SCREEN_MEMORY = "320M"
COURIER_MEMORY = "160M"
GATHERER_MEMORY = "320M"
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
    first = {GATHERER_UNIT: gatherer(box)} if box.is_board else {ENGINE_UNIT: engine(box)}
    services = {**first, SCREEN_UNIT: screen(box)}
    if box.club is not None and not box.is_board:
        services[COURIER_UNIT] = courier(box.club)
    return {**services, TARGET_UNIT: target(services)}


def target(services: Iterable[str]) -> str:
    """All services as one: ``systemctl stop spurlock.target`` stops them."""
    return f"""\
[Unit]
Description=Spurlock
Wants={" ".join(services)}

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
{_hidden(box.club)}
{_COMMON}"""


def screen(box: Box) -> str:
    """The screen: it listens where phones are, and has no device of the machine's."""
    what = f"board {box.about}" if box.is_board else f"run {box.about}"
    return f"""\
{_head("Spurlock's screen: the board in a browser")}
[Service]
ExecStart={CURRENT}/bin/spurlock {what} --part screen --host {box.host} --port {box.port}
RuntimeDirectory=spurlock-screen
SyslogIdentifier=spurlock-screen

MemoryMax={SCREEN_MEMORY}
TasksMax={TASKS}

PrivateDevices=yes
PrivateUsers=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6
IPAddressDeny=any
IPAddressAllow={_answered(box.host)}
{_hidden(box.club)}
{_COMMON}"""


def courier(club: Club) -> str:
    """A box's courier: it reaches the broker, and nobody reaches it."""
    return f"""\
{_head("Spurlock's courier: what this box tells its club's board")}
[Service]
ExecStart={CURRENT}/bin/spurlock run {LAYOUT} --part courier
RuntimeDirectory=spurlock-courier
SyslogIdentifier=spurlock-courier

MemoryMax={COURIER_MEMORY}
TasksMax={TASKS}
# What it does can wait: the lamps can't.
CPUWeight=50

{_outward(club)}
{_COMMON}"""


def gatherer(box: Box) -> str:
    """A board host's gatherer: it reaches broker and database, and nobody reaches it."""
    assert box.club is not None, "a board host has a broker"
    return f"""\
{_head("Spurlock's gatherer: the logs of all boxes in one database")}
[Service]
ExecStart={CURRENT}/bin/spurlock board {box.about} --part gatherer
RuntimeDirectory=spurlock-gatherer
SyslogIdentifier=spurlock-gatherer

MemoryMax={GATHERER_MEMORY}
TasksMax={TASKS}

{_outward(box.club)}
{_COMMON}"""


def _outward(club: Club) -> str:
    return f"""\
PrivateDevices=yes
PrivateUsers=yes
RestrictAddressFamilies=AF_UNIX AF_INET AF_INET6
IPAddressDeny=any
IPAddressAllow={_reached(club.host)}
"""


def _hidden(club: Club | None) -> str:
    """Whoever does not speak to the broker does not see its password either."""
    return "" if club is None else f"InaccessiblePaths=-{club.secret}\n"


def _head(description: str) -> str:
    return f"""\
[Unit]
Description={description}
PartOf={TARGET_UNIT}
StartLimitIntervalSec=0
"""


def _reached(host: str) -> str:
    """Where a broker may be: at its address, or anywhere in a home's own networks.

    This machine always: paho-mqtt wakes its thread over loopback, and names are looked up there.
    """
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return f"localhost {PRIVATE_NETWORKS}"
    return "localhost" if address.is_loopback else f"localhost {address}"


def _answered(host: str) -> str:
    """Whom the screen answers: itself, and a home's own networks if it listens there."""
    try:
        alone = ipaddress.ip_address(host).is_loopback
    except ValueError:
        alone = host.lower() == "localhost"
    return "localhost" if alone else f"localhost {PRIVATE_NETWORKS}"

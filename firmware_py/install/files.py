"""Every file that an installation writes, made as text; nothing here touches a disk."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import PurePosixPath as Place

from firmware_py.install.places import CURRENT, DATA, UNITS, USER, WALL_SCREEN, Box
from firmware_py.install.units import units

HARDWARE_WATCHDOG_S = 14
"""The Pi's timer ends at 16 s: 20 bits at 65,536 a second (calculated); see failing-safe.md."""
JOURNAL = Place("/etc/systemd/journald.conf.d/spurlock.conf")
MANAGER = Place("/etc/systemd/system.conf.d/spurlock.conf")
SYSUSERS = Place("/etc/sysusers.d/spurlock.conf")
AUTOSTART = Place("/etc/xdg/autostart/spurlock-wall-screen.desktop")


@dataclass(frozen=True, slots=True)
class File:
    """A text file and its mode."""

    path: Place
    text: str
    mode: int = 0o644


def files(box: Box) -> tuple[File, ...]:
    """All of them, in the order in which they are written."""
    written = [File(SYSUSERS, sysusers()), File(JOURNAL, journal()), File(MANAGER, manager())]
    written += [File(UNITS / name, text) for name, text in units(box).items()]
    if box.wall_screen:
        written += [File(WALL_SCREEN, wall_screen(box), 0o755), File(AUTOSTART, autostart())]
    return tuple(written)


def sysusers() -> str:
    """The user that both services run as, and the group that may touch GPIO (sysusers.d(5))."""
    return f"""\
g gpio -
g i2c -
g spi -
u {USER} - "Spurlock" {DATA}
"""


def journal() -> str:
    """A journal that neither fills the card nor wears it out (journald.conf(5))."""
    return """\
[Journal]
SystemMaxUse=64M
RuntimeMaxUse=16M
MaxRetentionSec=2month
SyncIntervalSec=10m
ForwardToSyslog=no
"""


def manager() -> str:
    """The hardware watchdog, which alone ends a hung kernel (systemd-system.conf(5))."""
    return f"""\
[Manager]
RuntimeWatchdogSec={HARDWARE_WATCHDOG_S}s
"""


def wall_screen(box: Box) -> str:
    """A script that shows the board on this machine's own display, once there is a board."""
    url = f"http://127.0.0.1:{box.port}/" if box.host != "::1" else f"http://[::1]:{box.port}/"
    return f"""\
#!/bin/sh
# The board on the wall: Chromium, full of it, with nothing of Chromium's own around it.
board={url}
until {CURRENT}/bin/python -c "import urllib.request as u; u.urlopen('$board', timeout=5)" 2>&-
do sleep 2; done
for browser in chromium chromium-browser; do
  if command -v "$browser" >/dev/null; then
    # Its notes go to memory, and it never asks whether to restore what a power cut ended.
    exec "$browser" --kiosk --incognito --no-first-run --noerrdialogs --disable-infobars \\
      --disable-session-crashed-bubble --password-store=basic \\
      --user-data-dir="${{XDG_RUNTIME_DIR:-/tmp}}/spurlock-wall-screen" "$board"
  fi
done
echo "spurlock: the wall screen needs Chromium: apt install chromium" >&2
exit 1
"""


def autostart() -> str:
    """Has every desktop session start it (Desktop Application Autostart Specification)."""
    return f"""\
[Desktop Entry]
Type=Application
Name=Spurlock's board
Exec={WALL_SCREEN}
Terminal=false
"""

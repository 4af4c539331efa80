"""The test machine: a PC under QEMU that boots a kernel into this machine's own files.

The guest sees the whole root folder, read-only, over 9p, and lays a folder of its own memory over
it, so that whatever it writes is gone when it stops; only the folder of results is shared to be
written. It has no network and no other device. Its time is counted in instructions, not taken
from the host, so that a busy host makes it slower but never late; idle time passes at once.
"""

from __future__ import annotations

import shutil
import subprocess
import threading
from collections.abc import Callable, Mapping
from pathlib import Path

QEMU = "qemu-system-x86_64"
MEMORY_MB = 1536
BOOT = Path(__file__).with_name("inside") / "boot.sh"
SHARE = "trans=virtio,version=9p2000.L,msize=262144"
SHIFT = 2
"""Each instruction takes 2^SHIFT nanoseconds of the guest's time, however busy the host is."""


class MachineError(Exception):
    """The machine did not do what it was started for; the text says what its console said."""


def has_qemu() -> bool:
    """Whether the emulator is installed."""
    return shutil.which(QEMU) is not None


def command(image: Path, results: Path, told: Mapping[str, str], *more: str) -> list[str]:
    """QEMU's command line. ``told`` reaches the guest's first process as its environment."""
    words = [
        # A busy host lets the timer come late; the kernel would take it for broken.
        "console=ttyS0 quiet panic=-1 no_timer_check tsc=reliable mitigations=off",
        f"root=rootfs0 rootfstype=9p rootflags={SHARE},cache=loose ro init={BOOT}",
        *(f"{name}={value}" for name, value in told.items()),
    ]
    return [
        QEMU,
        *("-M", "q35", "-accel", "tcg", "-cpu", "max", "-m", str(MEMORY_MB)),
        *("-icount", f"shift={SHIFT},sleep=off", "-smp", "1"),
        *("-display", "none", "-monitor", "none", "-serial", "stdio", "-net", "none"),
        *("-no-reboot", "-kernel", str(image)),
        *("-append", " ".join(words)),
        *_share("rootfs0", Path("/"), writable=False),
        *_share("results", results, writable=True),
        *more,
    ]


def run(line: list[str], hear: Callable[[str], None], timeout_s: float) -> None:
    """Let a machine run until it switches itself off; ``hear`` is told each line of its console.

    Errors: ``MachineError`` if it runs for longer than ``timeout_s`` or QEMU fails.
    """
    said: list[str] = []
    process = subprocess.Popen(
        line, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    too_late = threading.Event()
    alarm = threading.Timer(timeout_s, lambda: (too_late.set(), process.kill()))
    alarm.start()
    try:
        assert process.stdout is not None
        for raw in process.stdout:
            text = raw.decode("utf-8", "replace").rstrip()
            said.append(text)
            hear(text)
        status = process.wait()
    finally:
        alarm.cancel()
        process.kill()
        process.wait()
    last = "\n".join(said[-30:])
    if too_late.is_set():
        raise MachineError(f"the machine was not done within {timeout_s:g} s; it said:\n{last}")
    if status != 0:
        raise MachineError(f"QEMU ended with status {status}; it said:\n{last}")


def _share(tag: str, folder: Path, *, writable: bool) -> tuple[str, ...]:
    mode = "" if writable else ",readonly=on"
    return (
        *("-fsdev", f"local,id={tag},path={folder},security_model=none,multidevs=remap{mode}"),
        *("-device", f"virtio-9p-pci,fsdev={tag},mount_tag={tag}"),
    )

"""The test machine's work: ``python -m tests.kernel.inside tests`` or ``bench``."""

from __future__ import annotations

import ctypes
import fcntl
import os
import socket
import struct
import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).parent
ROOT = HERE.parents[2]
RESULTS = Path("/run/results")
REAL_BUS = ROOT / "tests" / "pins" / "test_expander_real_bus.py"
TEST_WITHIN_S = 240


def main() -> int:
    """Do it; the exit status is pytest's."""
    what = sys.argv[1]
    _loopback()
    _insert(RESULTS / "i2c-stub.ko", "chip_addr=0x20,0x21")
    if what == "tests":
        return _tests()
    sys.path.append(str(ROOT / "tests"))
    from tests.kernel.inside import bench  # noqa: PLC0415 - it loads half the project

    bench.report()
    return 0


def _tests() -> int:
    line = [sys.executable, "-m", "pytest", str(HERE), str(REAL_BUS), "-v", "--durations=10"]
    line += ["--color=no", "-o", "console_output_style=classic"]
    line += ["-p", "no:cacheprovider", f"--junitxml={RESULTS / 'junit.xml'}"]
    line += ["--basetemp=/run/pytest", f"--timeout={TEST_WITHIN_S}"]
    told = {"SPURLOCK_INSIDE": "1", "SPURLOCK_I2C_STUB": "1"}
    chosen = RESULTS / "select"
    line += ["-k", chosen.read_text()] if chosen.exists() else []
    return subprocess.run(line, cwd=ROOT, env=os.environ | told, check=False).returncode


def _loopback() -> None:
    """Switch the machine's own network on (netdevice(7)): there may be no program for it."""
    get, put, up = 0x8913, 0x8914, 0x1
    with socket.socket() as any_socket:
        asked = struct.pack("16sH14x", b"lo", 0)
        flags = struct.unpack("16sH14x", fcntl.ioctl(any_socket, get, asked))[1]
        fcntl.ioctl(any_socket, put, struct.pack("16sH14x", b"lo", flags | up))


def _insert(module: Path, parameters: str) -> None:
    """Put a module into the kernel (finit_module(2), number 313): insmod may not be there."""
    libc = ctypes.CDLL(None, use_errno=True)
    with module.open("rb") as file:
        if libc.syscall(313, file.fileno(), parameters.encode(), 0) != 0:
            raise OSError(ctypes.get_errno(), f"the kernel does not take {module.name}")


if __name__ == "__main__":
    sys.exit(main())

"""Builds the test kernel from Debian's source package, once for each version and set of options.

The outcome is kept in ``$XDG_CACHE_HOME/spurlock-kernel`` (``~/.cache`` where that is not set), a
folder for each version and options file, and nothing of it in the project.
"""

from __future__ import annotations

import contextlib
import fcntl
import hashlib
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

PACKAGE = "linux-source-6.1"
SOURCE = Path("/usr/src") / f"{PACKAGE}.tar.xz"
OPTIONS = Path(__file__).with_name("options.config")
NEEDS = ("make", "gcc", "ld", "flex", "bison", "bc", "tar", "xz")
PACKAGES = "gcc make xz-utils flex bison bc libelf-dev linux-source-6.1 qemu-system-x86"
UNUSED = ("arch/[a-w]*.[chS]", "arch/[a-w]*.dts*", "drivers/gpu/drm/*.[ch]", "sound/*.[ch]")
"""Parts of the source that this kernel never looks at; its Kconfig files it does."""


class CannotBuildError(Exception):
    """The kernel can't be built here; the text says what is missing or wrong."""


@dataclass(frozen=True, slots=True)
class Built:
    """A kernel that is ready: the image, and the module of the pretended I2C chips."""

    image: Path
    i2c_stub: Path


def cache_folder() -> Path:
    """Where kernels are kept."""
    base = os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(base) / "spurlock-kernel"


def source_version() -> str | None:
    """The version of the source package, or ``None`` where it is not installed."""
    asked = subprocess.run(
        ["dpkg-query", "-W", "-f=${Version}", PACKAGE], capture_output=True, text=True, check=False
    )
    return asked.stdout.strip() if asked.returncode == 0 and SOURCE.exists() else None


def built() -> Built | None:
    """The kernel, if it is in the cache."""
    version = source_version()
    return None if version is None else _in(_folder(version))


def build(say: Callable[[str], None]) -> Built:
    """Give the kernel, built if need be; another process that builds it is waited for.

    Errors: ``CannotBuildError``.
    """
    version = source_version()
    if version is None:
        raise CannotBuildError(f"{PACKAGE} is not installed; as root: apt-get install {PACKAGES}")
    missing = [tool for tool in NEEDS if shutil.which(tool) is None]
    if missing:
        raise CannotBuildError(f"no {', '.join(missing)} here; as root: apt-get install {PACKAGES}")
    folder = _folder(version)
    with _lock(folder):
        found = _in(folder)
        if found is None:
            say(f"building a kernel from {PACKAGE} {version}")
            found = _make(folder)
    return found


def _folder(version: str) -> Path:
    digest = hashlib.sha256(f"{version}\n".encode() + OPTIONS.read_bytes()).hexdigest()
    return cache_folder() / digest[:16]


def _in(folder: Path) -> Built | None:
    found = Built(folder / "bzImage", folder / "i2c-stub.ko")
    return found if found.image.exists() and found.i2c_stub.exists() else None


@contextlib.contextmanager
def _lock(folder: Path) -> Iterator[None]:
    folder.mkdir(parents=True, exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _make(folder: Path) -> Built:
    work = folder / "work"
    shutil.rmtree(work, ignore_errors=True)
    work.mkdir()
    excluded = [f"--exclude={PACKAGE}/{pattern}" for pattern in UNUSED]
    with (folder / "build.log").open("w") as log:

        def run(*command: str, cwd: Path) -> None:
            done = subprocess.run(command, cwd=cwd, stdout=log, stderr=log, check=False)
            if done.returncode:
                raise CannotBuildError(f"{' '.join(command)} failed; see {log.name}")

        run("tar", "-xf", str(SOURCE), *excluded, cwd=work)
        tree = work / PACKAGE
        make = ("make", "ARCH=x86_64", f"-j{os.cpu_count() or 1}")
        run(*make, "tinyconfig", cwd=tree)
        with (tree / ".config").open("a") as config:
            config.write(OPTIONS.read_text())
        run(*make, "olddefconfig", cwd=tree)
        _check_options((tree / ".config").read_text())
        run(*make, "bzImage", "modules", cwd=tree)
    # The image comes last: it is what says that all of it is there.
    for made, name in (("drivers/i2c/i2c-stub.ko",) * 2, ("arch/x86/boot/bzImage", "bzImage")):
        shutil.move(tree / made, folder / Path(name).name)
    shutil.rmtree(work)
    found = _in(folder)
    assert found is not None, "both files were just moved there"
    return found


def _check_options(config: str) -> None:
    has = set(config.splitlines())
    wanted = [line for line in OPTIONS.read_text().splitlines() if "CONFIG_" in line]
    dropped = [line for line in wanted if line not in has]
    if dropped:
        raise CannotBuildError(f"this source does not take {', '.join(dropped)}")

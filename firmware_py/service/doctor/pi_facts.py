"""What only a Pi can get wrong, as it was read from its files; ``pi.py`` judges it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from firmware_py.layout.electrics import ChipKind
from firmware_py.layout.errors import LayoutError
from firmware_py.layout.model import HeaderPin, Layout, Output, outputs_of
from firmware_py.layout.reading import read_layout
from firmware_py.service.doctor.boot_file import CONFIGS
from firmware_py.service.doctor.findings import Case

MANAGER_FILES = ("usr/lib/systemd", "etc/systemd", "run/systemd")
_PERSIST = "sys/module/pinctrl_*/parameters/persist_gpio_outputs"


@dataclass(frozen=True, slots=True)
class DrivenPin:
    """An output on a pin of the header: its name, what it is, and whether a low level drives it."""

    name: str
    output: str
    bcm: int
    inverted: bool


@dataclass(frozen=True, slots=True)
class PiFacts:
    """All of it. What could not be read is ``None``, or empty where there may be several.

    ``config`` is the boot file's text and ``cmdline`` the kernel's command line; ``persist`` is
    whether the kernel keeps outputs of a process that is gone. ``speeds`` are the clocks of the
    I2C buses in hertz by their number, ``buses`` those that the layout has chips on. ``manager``
    is the text of systemd's own settings, later files last, and ``watchdog`` whether the machine
    has one. ``filesystem`` is the kind that the data lie on.
    """

    model: str | None
    config: str | None
    cmdline: str
    persist: bool | None
    driven: tuple[DrivenPin, ...] | None
    buses: tuple[int, ...]
    speeds: dict[int, int]
    manager: str
    watchdog: bool
    filesystem: str | None

    @property
    def is_pi(self) -> bool:
        """Whether this is a Raspberry Pi."""
        return self.model is not None and "Raspberry Pi" in self.model


def read_facts(case: Case) -> PiFacts:
    """Read a machine's files; none of them is changed."""
    root, layout = case.root, _layout(case)
    buses = {c.bus for c in layout.chips if c.kind is ChipKind.MCP23017} if layout else set()
    return PiFacts(
        model=_first(root, ["proc/device-tree/model"]),
        config=_first(root, [str(place.relative_to("/")) for place in CONFIGS]),
        cmdline=_first(root, ["proc/cmdline"]) or "",
        persist=_persists(root),
        driven=tuple(_driven(layout)) if layout else None,
        buses=tuple(sorted(buses)),
        speeds=_speeds(root),
        manager=_manager(root),
        watchdog=(root / "dev/watchdog0").exists() or (root / "dev/watchdog").exists(),
        filesystem=_filesystem(root, case.file),
    )


def _layout(case: Case) -> Layout | None:
    try:
        return read_layout(case.layout) if case.layout else None
    except LayoutError:
        return None


def _driven(layout: Layout) -> Iterable[DrivenPin]:
    for thing in layout.things:
        for output, wire in outputs_of(thing):
            match wire:
                case Output(HeaderPin(bcm), inverted):
                    yield DrivenPin(f"{thing.id}.{output}", output, bcm, inverted)


def _first(root: Path, places: Iterable[str]) -> str | None:
    for place in places:
        try:
            return (root / place).read_text("utf-8", "replace").strip("\0\n ")
        except OSError:
            continue
    return None


def _persists(root: Path) -> bool | None:
    said = [_first(root, [str(path.relative_to(root))]) for path in sorted(root.glob(_PERSIST))]
    known = [word.upper() in ("Y", "1") for word in said if word]
    return any(known) if known else None


def _speeds(root: Path) -> dict[int, int]:
    """Each bus's clock by the device tree, which has it as four bytes, the highest first."""
    found = {}
    for path in sorted((root / "sys/bus/i2c/devices").glob("i2c-*/of_node/clock-frequency")):
        try:
            number, clock = int(path.parts[-3].removeprefix("i2c-")), path.read_bytes()
        except (OSError, ValueError):
            continue
        found[number] = int.from_bytes(clock, "big")
    return found


def _manager(root: Path) -> str:
    files: dict[str, Path] = {}
    for folder in MANAGER_FILES:
        for path in (root / folder / "system.conf.d").glob("*.conf"):
            files[path.name] = path  # A later folder's file stands for one of the same name.
    paths = [root / "etc/systemd/system.conf", *(files[name] for name in sorted(files))]
    return "\n".join(_first(root, [str(path.relative_to(root))]) or "" for path in paths)


def _filesystem(root: Path, file: Path | None) -> str | None:
    """The kind of file system under a file, by the longest mount point that leads to it."""
    if file is None:
        return None
    kinds = {"": ""}
    for line in (_first(root, ["proc/self/mounts"]) or "").splitlines():
        words = line.split()
        if len(words) >= 3:
            kinds[words[1].replace(r"\040", " ").rstrip("/")] = words[2]
    folder = str(file.resolve().parent)
    under = [at for at in kinds if folder == at or folder.startswith(f"{at}/")]
    return kinds[max(under, key=len)] or None

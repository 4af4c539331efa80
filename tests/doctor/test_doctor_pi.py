"""What only a Pi can get wrong: judged from facts, and the facts as a machine's files give them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from doctor_machine import LAYOUT, Machine

from firmware_py.service.doctor import pi
from firmware_py.service.doctor.boot_file import levels_at_boot, parameters
from firmware_py.service.doctor.findings import Finding, State
from firmware_py.service.doctor.pi_facts import DrivenPin, PiFacts

WELL = PiFacts(
    model="Raspberry Pi 4 Model B Rev 1.4",
    config="dtparam=strict_gpiod\ndtparam=i2c_arm=on,i2c_arm_baudrate=400000",
    cmdline="",
    persist=False,
    driven=(DrivenPin("pit-switch.bolt", "bolt", 12, False),),
    buses=(1,),
    speeds={1: 400_000},
    manager="[Manager]\nRuntimeWatchdogSec=14s",
    watchdog=True,
    filesystem="ext4",
)

Check = Callable[[PiFacts], Finding]


def test_all_is_well() -> None:
    assert [finding.state for finding in pi.judge(WELL)] == [State.WELL] * 5


@pytest.mark.parametrize(
    ("check", "facts", "words"),
    [
        (pi.boot, {"persist": True}, "written but not in force"),
        (pi.boot, {"persist": True, "config": ""}, "strict_gpiod is not set"),
        (pi.boot, {"persist": None, "config": None}, "strict_gpiod is not set"),
        (pi.i2c, {"speeds": {1: 100_000}}, "bus 1 runs at 100 kHz"),
        (pi.i2c, {"speeds": {}, "config": "dtparam=i2c_arm=on"}, "bus 1 runs at 100 kHz"),
        (pi.watchdog, {"manager": ""}, "a hung kernel is not ended"),
        (pi.watchdog, {"manager": "RuntimeWatchdogSec=off"}, "a hung kernel is not ended"),
        (pi.watchdog, {"manager": "RuntimeWatchdogSec=30s"}, "30 s is more than"),
        (pi.watchdog, {"manager": "RuntimeWatchdogSec=1min"}, "60 s is more than"),
        (pi.watchdog, {"manager": "RuntimeWatchdogSec=soon"}, "can't be understood"),
        (pi.overlay, {"filesystem": "overlay"}, "gone at the next power-off"),
        (pi.overlay, {"filesystem": "tmpfs"}, "gone at the next power-off"),
    ],
)
def test_what_needs_care(check: Check, facts: dict[str, object], words: str) -> None:
    found = check(replace(WELL, **facts))  # type: ignore[arg-type]
    assert found.state is State.CARE
    assert words in found.says
    assert found.do


@pytest.mark.parametrize(
    ("check", "facts"),
    [
        (pi.boot, {"persist": None, "model": "Some Board"}),
        (pi.pulls, {"driven": None}),
        (pi.i2c, {"driven": None}),
        (pi.i2c, {"buses": (5,), "speeds": {}}),
        (pi.watchdog, {"watchdog": False}),
        (pi.overlay, {"filesystem": None}),
        (pi.overlay, {"filesystem": "overlay", "model": None}),
    ],
)
def test_what_this_machine_does_not_tell(check: Check, facts: dict[str, object]) -> None:
    assert check(replace(WELL, **facts)).state is State.UNTOLD  # type: ignore[arg-type]


def test_the_last_word_on_the_watchdog_holds() -> None:
    both = "RuntimeWatchdogSec=30s\n#RuntimeWatchdogSec=60s\nRuntimeWatchdogSec=10"
    assert pi.watchdog(replace(WELL, manager=both)).says == "a hung kernel is ended after 10 s"


@pytest.mark.parametrize(
    ("output", "bcm", "inverted", "config", "energised"),
    [
        ("bolt", 12, False, "", False),
        ("bolt", 5, False, "", True),
        ("power", 12, True, "", True),
        ("power", 5, True, "", False),
        ("green", 20, True, "", True),  # It would say "safe" before anybody looked.
        ("red", 20, True, "", False),
        ("bolt", 5, False, "gpio=5=pd", False),
        ("bolt", 5, False, "gpio=0-8=op,dl", False),
        ("bolt", 12, False, "gpio=12=op,dh", True),
        ("bolt", 5, False, "gpio=5=pn", False),
    ],
)
def test_pulls(output: str, bcm: int, inverted: bool, config: str, energised: bool) -> None:
    """0 to 8 up, 9 to 27 down: Raspberry Pi documentation, "Power-on states"; gpio= as there."""
    pin = DrivenPin(f"a.{output}", output, bcm, inverted)
    found = pi.pulls(replace(WELL, driven=(pin,), config=config))
    assert found.state is (State.CARE if energised else State.WELL)
    assert (f"GPIO {bcm}" in found.says) is energised


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("14", 14.0), ("14s", 14.0), ("1min 5s", 65.0), ("500ms", 0.5), ("off", 0.0), ("x", None)],
)
def test_spans_of_systemds(text: str, seconds: float | None) -> None:
    """As in systemd.time(7)."""
    assert pi.seconds_of(text) == seconds


def test_parameters_of_a_boot_file() -> None:
    text = "# dtparam=no\n dtparam=i2c_arm=on,spi\n[pi4]\ndtparam=i2c_arm_baudrate=400000 # fast\n"
    assert parameters(text) == {"i2c_arm": "on", "spi": "on", "i2c_arm_baudrate": "400000"}
    assert levels_at_boot("")[8] is True
    assert levels_at_boot("gpio=2-3,7=pn\ngpio=40=pd")[7] is None


# As a machine's files give them.


@pytest.fixture
def machine(tmp_path: Path) -> Machine:
    return Machine(tmp_path)


def found(machine: Machine) -> dict[str, Finding]:
    return {part: f for part, f in machine.examine().items() if part in PARTS}


PARTS = ("boot", "pulls", "i2c", "watchdog", "overlay")


def test_a_pi_that_is_well(machine: Machine) -> None:
    assert {finding.state for finding in found(machine).values()} == {State.WELL}


def test_a_kernel_that_keeps_outputs(machine: Machine) -> None:
    machine.put("sys/module/pinctrl_bcm2835/parameters/persist_gpio_outputs", "Y\n")
    assert "not in force" in found(machine)["boot"].says
    machine.put("boot/firmware/config.txt", "")
    assert "not set" in found(machine)["boot"].says


def test_a_bolt_that_is_drawn_at_power_up(machine: Machine) -> None:
    machine.layout.write_text(LAYOUT.replace("bolt = 12", "bolt = 5"))
    assert "pit-switch.bolt (GPIO 5)" in found(machine)["pulls"].says


def test_a_slow_bus(machine: Machine) -> None:
    chip = '\n[[chip]]\nid = "box"\nkind = "mcp23017"\naddress = 0x20\nbus = 1\n'
    machine.layout.write_text(LAYOUT + chip)
    assert "100 kHz" in found(machine)["i2c"].says
    clock = machine.put("sys/bus/i2c/devices/i2c-1/of_node/clock-frequency", "")
    clock.write_bytes((400_000).to_bytes(4, "big"))
    assert found(machine)["i2c"].state is State.WELL


def test_a_watchdog_that_is_set_elsewhere_too(machine: Machine) -> None:
    """Of two files the later name holds (systemd-system.conf(5))."""
    machine.put("etc/systemd/system.conf", "[Manager]\nRuntimeWatchdogSec=5s\n")
    assert "14 s" in found(machine)["watchdog"].says
    machine.put("usr/lib/systemd/system.conf.d/zz-vendor.conf", "RuntimeWatchdogSec=60\n")
    assert found(machine)["watchdog"].state is State.CARE
    machine.put("etc/systemd/system.conf.d/zz-vendor.conf", "")
    assert found(machine)["watchdog"].state is State.WELL


def test_an_overlay_over_the_data_and_a_partition_of_their_own(machine: Machine) -> None:
    root = "overlay / overlay rw,upperdir=/run/upper 0 0\n"
    machine.put("proc/self/mounts", root)
    assert "overlay" in found(machine)["overlay"].says
    assert found(machine)["overlay"].state is State.CARE
    folder = machine.logbook.resolve().parent
    machine.put("proc/self/mounts", f"{root}/dev/mmcblk0p3 {folder} ext4 rw 0 0\n")
    assert found(machine)["overlay"].state is State.WELL


def test_a_layout_that_can_not_be_read_is_not_judged(machine: Machine) -> None:
    machine.layout.write_text("[layout")
    assert found(machine)["pulls"].state is State.UNTOLD

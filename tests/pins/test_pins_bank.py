"""One chip's inputs against the fake kernel, without any thread."""

import pytest
from gpiod.line import Bias, Value
from pins_fake_gpio import FakeChip, FakeDevices, header_chip, kernel_of

from firmware_py.pins.bank import Bank, Change
from firmware_py.pins.driver import Driver
from firmware_py.pins.kernel import HEADER, ChipAbsentError, Kernel
from firmware_py.pins.wiring import PinsError

Told = tuple[int, int, bool | None]


def hear(ticks: int, level: bool | None) -> None:
    raise AssertionError("a bank calls nobody")


@pytest.fixture
def chip() -> FakeChip:
    return FakeChip("gpiochip2", "box", 16)


@pytest.fixture
def bank(chip: FakeChip) -> Bank:
    made = Bank(kernel_of(chip), "box", clock_ns=lambda: 9_000)
    for offset in range(4):
        made.add(offset, "up", hear)
    made.claim()
    return made


def told(bank: Bank, changes: list[Change]) -> list[Told]:
    offsets = {line: offset for offset, line in bank._lines.items()}
    return [(at_ns, offsets[line], level) for at_ns, line, level in changes]


def drain(bank: Bank) -> list[Told]:
    (part,) = bank.parts()
    return told(bank, bank.drain(part))


def test_all_lines_are_one_request_with_pull_ups_and_a_large_buffer() -> None:
    chip = header_chip()
    devices = FakeDevices(chip)
    bank = Bank(Kernel(devices), HEADER)
    for offset in range(2, 28):
        bank.add(offset, "up", hear)
    assert bank.claim()
    assert not bank.claim()
    (request,) = chip.live
    assert sorted(request.settings) == list(range(2, 28))
    assert {setting.bias for setting in request.settings.values()} == {Bias.PULL_UP}
    assert devices.buffers == [1024]


def test_edges_come_with_the_kernels_times(bank: Bank, chip: FakeChip) -> None:
    chip.pull(1, False, at_ns=100)
    chip.pull(3, False, at_ns=200)
    chip.pull(1, True, at_ns=300)
    assert drain(bank) == [(100, 1, False), (200, 3, False), (300, 1, True)]
    assert bank.gaps == 0


def test_a_gap_in_the_numbers_reads_all_levels_at_once(bank: Bank, chip: FakeChip) -> None:
    chip.pull_silently(2, False)
    chip.drop_edge()
    chip.pull(1, False, at_ns=100)
    assert drain(bank) == [(100, 1, False), (9_000, 2, False)]
    (trouble,) = bank.troubles()
    assert (trouble.times, trouble.standing) == (1, False)
    chip.pull(1, True, at_ns=400)
    assert drain(bank) == [(400, 1, True)]
    assert bank.gaps == 1


def test_a_flood_beyond_the_buffer_ends_at_the_true_level(bank: Bank, chip: FakeChip) -> None:
    for turn in range(3001):
        chip.pull(0, turn % 2 == 1, at_ns=turn)
    changes = []
    while chip.live[0].events:
        changes += drain(bank)
    assert bank.gaps >= 1
    assert changes[-1][2] is False
    assert bank.level(0) is False


def test_the_resync_reports_what_was_missed_once(bank: Bank, chip: FakeChip) -> None:
    chip.pull_silently(2, False)
    assert told(bank, bank.resync()) == [(9_000, 2, False)]
    assert bank.resync() == []


def test_the_resync_takes_waiting_edges_first_with_their_own_times(
    bank: Bank, chip: FakeChip
) -> None:
    chip.pull(1, False, at_ns=100)
    chip.pull(1, True, at_ns=200)
    chip.pull(3, False, at_ns=300)
    assert told(bank, bank.resync()) == [(100, 1, False), (200, 1, True), (300, 3, False)]


def test_an_edge_that_the_resync_overtook_is_no_second_change_and_time_stands(
    bank: Bank, chip: FakeChip
) -> None:
    chip.pull_silently(1, False)
    assert told(bank, bank.resync()) == [(9_000, 1, False)]
    chip.live[0].edge(1, False, at_ns=100)
    assert drain(bank) == []
    chip.pull(1, True, at_ns=8_999)
    assert drain(bank) == [(9_000, 1, True)]


def test_a_line_that_moves_while_the_levels_are_read_is_left_to_its_edge(
    bank: Bank, chip: FakeChip, monkeypatch: pytest.MonkeyPatch
) -> None:
    request = chip.live[0]
    read = request.get_values

    def moving(lines: list[int]) -> list[Value]:
        values = read(lines)
        chip.pull(1, True, at_ns=500)
        return values

    chip.pull_silently(1, False)
    chip.drop_edge()
    monkeypatch.setattr(request, "get_values", moving)
    # It was read low and is high by now, which is what was told of it: no change at all.
    assert bank.resync() == []
    monkeypatch.undo()
    assert bank.resync() == []
    assert bank.level(1) is True


def test_a_dead_chip_loses_its_contacts_and_gives_them_back(bank: Bank, chip: FakeChip) -> None:
    chip.pull(1, False, at_ns=100)
    drain(bank)
    chip.die()
    assert bank.level(1) is None
    assert sorted(told(bank, bank.resync())) == [(9_000, offset, None) for offset in range(4)]
    assert bank.resync() == []
    (trouble,) = bank.troubles()
    assert (trouble.at, trouble.times, trouble.standing) == ("box", 1, True)
    chip.come_back()
    assert sorted(told(bank, bank.resync())) == [
        (9_000, 0, True),
        (9_000, 1, False),
        (9_000, 2, True),
        (9_000, 3, True),
    ]
    assert bank.troubles()[0].standing is False
    chip.pull(3, False, at_ns=10_000)
    assert drain(bank) == [(10_000, 3, False)]


def test_a_chip_found_again_elsewhere_is_the_same_chip(chip: FakeChip) -> None:
    devices = FakeDevices(chip)
    bank = Bank(Kernel(devices), "box")
    bank.add(0, "up", hear)
    bank.claim()
    chip.die()
    bank.resync()
    chip.name = "gpiochip7"
    chip.come_back()
    assert [level for _, _, level in bank.resync()] == [True]


def test_reading_fails_while_draining(bank: Bank, chip: FakeChip) -> None:
    chip.pull(1, False, at_ns=100)
    (part,) = bank.parts()
    chip.die()
    assert {level for _, _, level in bank.drain(part)} == {None}
    assert bank.drain(part) == []


def test_an_absent_chip_is_unknown_until_it_answers(chip: FakeChip) -> None:
    chip.die()
    bank = Bank(kernel_of(chip), "box")
    bank.add(0, "up", hear)
    assert bank.claim()
    assert not bank.claim()
    assert bank.level(0) is None
    assert "no GPIO chip" in bank.troubles()[0].why
    chip.come_back()
    assert [level for _, _, level in bank.resync()] == [True]


def test_a_machine_without_a_header_is_told_so(chip: FakeChip) -> None:
    bank = Bank(kernel_of(chip), HEADER)
    bank.add(5, "up", hear)
    with pytest.raises(PinsError, match=r"no Raspberry Pi header: .*gpiochip2 \[box\]"):
        bank.claim()
    with pytest.raises(PinsError, match="no Raspberry Pi header"):
        Driver(kernel_of(chip), HEADER, 20).begin(False)


def test_lines_added_later_leave_the_others_their_changes(bank: Bank, chip: FakeChip) -> None:
    bank.add(9, "down", hear)
    chip.pull_silently(2, False)
    assert bank.claim()
    assert len(chip.live[-1:]) == 1
    assert told(bank, bank.resync()) == [(9_000, 2, False)]
    chip.pull(9, False, at_ns=50)
    assert drain(bank) == [(50, 9, False)]


def test_a_removed_line_goes_back_with_the_next_request(bank: Bank, chip: FakeChip) -> None:
    bank.remove(2)
    chip.pull(2, False, at_ns=100)
    assert drain(bank) == []
    bank.resync()
    assert not bank.holds(2)
    for offset in (0, 1, 3):
        bank.remove(offset)
    assert chip.requests == []
    assert bank.resync() == []


def test_more_lines_than_a_request_takes() -> None:
    """The kernel's limit is 64 lines for a request (GPIO_V2_LINES_MAX, uapi/linux/gpio.h)."""
    chip = FakeChip("gpiochip3", "wide", 200)
    bank = Bank(kernel_of(chip), "wide")
    for offset in range(200):
        bank.add(offset, "up", hear)
    bank.claim()
    assert [len(request.settings) for request in chip.live] == [64, 64, 64, 8]
    for offset in (0, 63, 64, 199):
        chip.pull(offset, False, at_ns=offset)
    ready = [part for part in bank.parts() if part.request.events]
    changes = [change for part in ready for change in told(bank, bank.drain(part))]
    assert changes == [(0, 0, False), (63, 63, False), (64, 64, False), (199, 199, False)]


def test_a_gap_on_one_request_leaves_the_other_nothing_to_block_on() -> None:
    chip = FakeChip("gpiochip3", "wide", 70)
    bank = Bank(kernel_of(chip), "wide")
    for offset in range(70):
        bank.add(offset, "up", hear)
    bank.claim()
    first, second = bank.parts()
    chip.live[0].seqno += 1
    chip.pull(0, False, at_ns=10)
    chip.pull(69, False, at_ns=20)
    assert told(bank, bank.drain(first)) == [(10, 0, False), (20, 69, False)]
    assert bank.drain(second) == []


def test_any_failure_makes_the_chip_unknown_until_the_resync(
    bank: Bank, chip: FakeChip, monkeypatch: pytest.MonkeyPatch
) -> None:
    chip.pull(1, False, at_ns=100)
    (part,) = bank.parts()
    monkeypatch.setattr(part.request, "read_edges", lambda: 1 / 0)
    assert {level for _, _, level in bank.drain(part)} == {None}
    assert sorted(told(bank, bank.resync()))[:2] == [(9_000, 0, True), (9_000, 1, False)]


def test_a_loss_found_while_a_line_is_added_is_still_told(bank: Bank, chip: FakeChip) -> None:
    chip.die()
    bank.add(9, "up", hear)
    assert bank.claim()
    changes = told(bank, bank.resync())
    assert sorted(changes) == [(9_000, offset, None) for offset in range(4)]


def test_a_line_beyond_the_chip_is_named(chip: FakeChip) -> None:
    bank = Bank(kernel_of(chip), "box")
    bank.add(16, "up", hear)
    with pytest.raises(PinsError, match="box has lines 0 to 15, so no line 16"):
        bank.claim()


def test_a_line_in_use_elsewhere_is_named(chip: FakeChip, bank: Bank) -> None:
    other = Bank(kernel_of(chip), "gpiochip2")
    other.add(3, "up", hear)
    with pytest.raises(PinsError, match=r"refuses lines 3: .*in use by another program"):
        other.claim()


def test_chips_are_found_by_label_name_and_header_rule() -> None:
    header, box = header_chip(), FakeChip("gpiochip2", "box", 16)
    devices = FakeDevices(header, box)
    # As on a Pi 5 with a newer kernel, where the old name is a link.
    devices.links["/dev/gpiochip4"] = header
    kernel = Kernel(devices)
    assert kernel.find(HEADER) == ("/dev/gpiochip0", 58)
    assert kernel.find("box") == ("/dev/gpiochip2", 16)
    assert kernel.find("gpiochip2") == ("/dev/gpiochip2", 16)
    with pytest.raises(ChipAbsentError, match=r'"shed" .*gpiochip0 \[pinctrl-bcm2711\]'):
        kernel.find("shed")


def test_two_chips_of_one_label_are_told_apart_by_name() -> None:
    kernel = kernel_of(FakeChip("gpiochip2", "box", 16), FakeChip("gpiochip3", "box", 16))
    with pytest.raises(PinsError, match="gpiochip2, gpiochip3"):
        kernel.find("box")


def test_a_chip_that_may_not_be_opened_is_mentioned() -> None:
    devices = FakeDevices(header_chip())
    devices.info = lambda path: (_ for _ in ()).throw(PermissionError(13, "Permission denied"))
    with pytest.raises(ChipAbsentError, match="could not look at /dev/gpiochip0: Permission"):
        Kernel(devices).find(HEADER)

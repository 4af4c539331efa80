"""What expanders must do on any bench: modelled chips, and a real Linux I2C bus."""

from collections.abc import Callable

from expander_bench import Bench, StubBench

from firmware_py.pins.expanders.registers import Register

AnyOf = Bench | StubBench
LOST = "chip io-0 lost its settings and was set up again; look after its 3.3 V supply"


def settings_are_written(bench: AnyOf) -> None:
    bench.watch("io-0:0", "io-0:14")
    bench.led("io-0:7", lit=True)
    bench.led("io-0:15")
    bench.step()
    assert bench.word(0, Register.IODIR) == 0x7F7F
    assert bench.word(0, Register.GPPU) == 0x7F7F
    assert bench.word(0, Register.OLAT) == 0x0080
    assert bench.word(0, Register.IPOL) == 0
    assert bench.word(0, Register.IOCON) == 0x0404
    assert bench.said() == []


def only_changed_lines_are_told_of_with_the_time_of_the_scan(bench: AnyOf) -> None:
    first, second = bench.watch("io-0:0", "io-0:9")
    bench.step()
    first.told.clear()
    second.told.clear()
    bench.pull(0, 9, False)
    bench.step()
    assert first.told == []
    assert second.told == [(10_000, False)]
    assert (first.level, second.level) == (True, False)
    bench.step(5)
    assert second.told == [(10_000, False)], "told once"
    bench.pull(0, 9, True)
    bench.step()
    assert second.told[1:] == [(40_000, True)]


def outputs_are_driven(bench: AnyOf) -> None:
    red, green = bench.led("io-0:8", lit=True), bench.led("io-0:15")
    bench.step()
    assert bench.word(0, Register.OLAT) == 0x0100
    red.off()
    green.on()
    bench.step()
    assert bench.word(0, Register.OLAT) == 0x8000
    assert bench.word(0, Register.IODIR) == 0x7EFF


def a_brown_out_is_mended_and_told_of(bench: AnyOf) -> None:
    [contact] = bench.watch("io-0:3")
    bench.led("io-0:7", lit=True)
    bench.step(3)
    contact.told.clear()
    bench.brown_out(0)
    bench.step(60)
    assert bench.word(0, Register.IODIR) == 0xFF7F
    assert bench.word(0, Register.GPPU) == 0xFF7F
    assert bench.word(0, Register.OLAT) == 0x0080
    assert bench.word(0, Register.IOCON) == 0x0404
    assert contact.levels == [None, True], "unknown for a moment, and read anew"
    assert bench.said() == [(LOST, False)]


def a_brown_out_is_found_by_the_first_change(bench: AnyOf) -> None:
    [contact] = bench.watch("io-0:3")
    bench.step(3)
    contact.told.clear()
    bench.brown_out(0)
    bench.pull(0, 3, False)
    bench.step()
    assert contact.levels == [None], "what a chip without its settings says is not believed"
    bench.step()
    assert contact.levels == [None, False]


def what_was_done_to_the_chip_by_others_is_undone(bench: AnyOf) -> None:
    bench.watch("io-0:3")
    bench.led("io-0:7", lit=True)
    bench.step(3)
    for register in (Register.IODIR, Register.GPPU, Register.IPOL, Register.OLAT, Register.IOCON):
        before = bench.word(0, register)
        bench.put(0, register, before ^ 0x0088)
        bench.step(60)
        assert bench.word(0, register) == before, register.name


EXERCISES: tuple[Callable[[AnyOf], None], ...] = (
    settings_are_written,
    only_changed_lines_are_told_of_with_the_time_of_the_scan,
    outputs_are_driven,
    a_brown_out_is_mended_and_told_of,
    a_brown_out_is_found_by_the_first_change,
    what_was_done_to_the_chip_by_others_is_undone,
)

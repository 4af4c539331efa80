from collections.abc import Callable, Iterator

import gpiozero
import pytest
from pins_layouts import mill

from firmware_py.core.names import Shows
from firmware_py.layout.model import Contact, HeaderPin
from firmware_py.pins.board import Board
from firmware_py.pins.drives import LEVELS, SAFE, Output
from firmware_py.pins.flasher import Flasher, Rate
from firmware_py.pins.mock import SimulatedFactory

SWITCH = "mill-switch"


class Clock:
    def __init__(self) -> None:
        self.now_ns = 1_000_000_000

    def __call__(self) -> int:
        return self.now_ns


@pytest.fixture(autouse=True)
def _no_flasher_thread(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Flasher, "_start", lambda self: None)


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def factory(clock: Clock) -> SimulatedFactory:
    return SimulatedFactory(clock)


@pytest.fixture
def board(factory: SimulatedFactory, clock: Clock) -> Iterator[Board]:
    made = Board(mill(), factory, clock)
    yield made
    made.close()


def contacts() -> dict[str, Contact]:
    return {contact.name: contact for contact in mill().contacts}


def lit(board: Board, output: str, of: str = SWITCH) -> bool:
    return bool(board.outputs[of, output].value)


def break_wire(board: Board, output: str, of: str = SWITCH) -> Callable[[], None]:
    """Have one wire fail as a dead chip's does; returns how to mend it."""
    device = board.outputs[of, output]
    pin = device.pin
    kind = type(pin)

    class Dead(kind):
        def _set_state(self, value: bool) -> None:
            raise OSError(19, "No such device")

    pin.__class__ = Dead

    def mend() -> None:
        pin.__class__ = kind

    return mend


def test_devices_are_gpiozeros_own(board: Board) -> None:
    assert {type(d) for d in board.contacts.values()} == {gpiozero.DigitalInputDevice}
    kinds = {output: type(device) for (_, output), device in board.outputs.items()}
    assert kinds == {
        "green": gpiozero.LED,
        "red": gpiozero.LED,
        "white": gpiozero.LED,
        "lamp": gpiozero.LED,
        "bolt": gpiozero.DigitalOutputDevice,
        "power": gpiozero.DigitalOutputDevice,
        "buzzer": gpiozero.Buzzer,
    }


def test_levels_are_made_and_not_made_whatever_the_wiring(
    board: Board, factory: SimulatedFactory
) -> None:
    factory.rest(mill().contacts)
    assert board.levels() == {
        "mill-switch.hasp": True,
        "mill-switch.normal": True,
        "mill-switch.reverse": False,
        "mill-flag.rack": False,
    }
    factory.hand(contacts()["mill-switch.reverse"], True)
    factory.hand(contacts()["mill-flag.rack"], None)
    assert board.levels()["mill-switch.reverse"] is True
    assert board.levels()["mill-flag.rack"] is None


def test_every_change_is_put_with_its_time(
    board: Board, factory: SimulatedFactory, clock: Clock
) -> None:
    factory.rest(mill().contacts)
    put = []
    board.watch(lambda *reading: put.append(reading))
    assert put == []
    clock.now_ns = 2_000_000_999
    factory.hand(contacts()["mill-switch.hasp"], False)
    clock.now_ns = 3_000_000_000
    factory.hand(contacts()["mill-switch.reverse"], True)
    factory.hand(contacts()["mill-switch.reverse"], True)
    factory.hand(contacts()["mill-flag.rack"], None)
    factory.hand(contacts()["mill-flag.rack"], True)
    assert put == [
        (2_000_000, "mill-switch.hasp", False),
        (3_000_000, "mill-switch.reverse", True),
        (3_000_000, "mill-flag.rack", None),
        (3_000_000, "mill-flag.rack", True),
    ]


def test_watching_again_replaces_the_first(board: Board, factory: SimulatedFactory) -> None:
    first, second = [], []
    board.watch(lambda *reading: first.append(reading))
    board.watch(lambda *reading: second.append(reading))
    factory.hand(contacts()["mill-switch.hasp"], True)
    assert (len(first), len(second)) == (0, 1)


def test_nothing_is_energised_at_first(board: Board) -> None:
    assert not any(device.value for device in board.outputs.values())
    # The white lamp's wire is inverted: dark is high.
    assert board.outputs[SWITCH, "white"].pin.state is True


@pytest.mark.parametrize("output", list(Output))
def test_each_output_shows_what_it_can(board: Board, output: str) -> None:
    of = {"power": "mill", "lamp": "mill-flag"}.get(output, SWITCH)
    for shows, on in LEVELS[output].items():
        board.show(of, output, shows)
        assert lit(board, output, of) is on
        assert board.shown()[of, output] is shows


@pytest.mark.parametrize(
    ("of", "output", "shows"),
    [
        (SWITCH, "bolt", Shows.STEADY),
        (SWITCH, "bolt", Shows.FLASHING),
        (SWITCH, "red", Shows.DRAWN),
        ("mill", "power", Shows.FLASHING),
        (SWITCH, "buzzer", Shows.SHUT),
    ],
)
def test_what_an_output_cannot_show_is_refused(
    board: Board, of: str, output: str, shows: Shows
) -> None:
    with pytest.raises(ValueError, match=f"{of}.{output} can't show {shows}: it can show"):
        board.show(of, output, shows)
    assert not lit(board, output, of)


def test_an_output_that_is_not_there_is_refused(board: Board) -> None:
    with pytest.raises(KeyError):
        board.show("mill-flag", "red", Shows.STEADY)


def test_red_flashes_fast_and_white_slowly(board: Board, clock: Clock) -> None:
    board.show(SWITCH, "red", Shows.FLASHING)
    board.show(SWITCH, "white", Shows.FLASHING)
    assert lit(board, "red")
    assert lit(board, "white")
    board._flasher.step(clock.now_ns + Rate.FAST.value)
    assert not lit(board, "red")
    assert lit(board, "white")
    board._flasher.step(clock.now_ns + Rate.SLOW.value)
    assert not lit(board, "white")


def test_steady_after_flashing_stays(board: Board, clock: Clock) -> None:
    board.show(SWITCH, "red", Shows.FLASHING)
    board.show(SWITCH, "red", Shows.STEADY)
    for half in range(1, 4):
        board._flasher.step(clock.now_ns + half * Rate.FAST.value)
        assert lit(board, "red")


def test_safe_is_safe_whatever_was_shown(board: Board, clock: Clock) -> None:
    for output, shows in [("bolt", Shows.DRAWN), ("buzzer", Shows.ON), ("green", Shows.STEADY)]:
        board.show(SWITCH, output, shows)
    board.show("mill", "power", Shows.ON)
    board.show(SWITCH, "white", Shows.FLASHING)
    board.show("mill-flag", "lamp", Shows.STEADY)
    assert board.safe() == ()
    on = {key for key, device in board.outputs.items() if device.value}
    assert on == {(SWITCH, "red")}
    board._flasher.step(clock.now_ns + Rate.SLOW.value)
    assert not lit(board, "white")
    assert all(board.shown()[of, output] is SAFE[Output(output)] for of, output in board.outputs)


def test_one_dead_wire_keeps_no_other_from_being_made_safe(board: Board) -> None:
    board.show(SWITCH, "bolt", Shows.DRAWN)
    board.show("mill", "power", Shows.ON)
    break_wire(board, "bolt")
    assert board.safe() == ("mill-switch.bolt: [Errno 19] No such device",)
    assert not lit(board, "power", "mill")
    assert lit(board, "red")


def test_a_wire_that_fails_is_counted_and_mended_by_refresh(board: Board) -> None:
    mend = break_wire(board, "green")
    board.show(SWITCH, "green", Shows.STEADY)
    board.refresh()
    (trouble,) = board.troubles()
    assert (trouble.at, trouble.times, trouble.standing) == ("mill-switch.green", 2, True)
    assert "No such device" in trouble.why
    mend()
    board.refresh()
    assert lit(board, "green")
    (trouble,) = board.troubles()
    assert (trouble.times, trouble.standing) == (2, False)


def test_a_flashing_lamp_that_fails_is_counted_and_the_others_go_on(
    board: Board, clock: Clock
) -> None:
    board.show("mill-flag", "lamp", Shows.FLASHING)
    board.show(SWITCH, "white", Shows.FLASHING)
    mend = break_wire(board, "lamp", "mill-flag")
    board._flasher.step(clock.now_ns + Rate.SLOW.value)
    assert not lit(board, "white")
    assert [trouble.at for trouble in board.troubles()] == ["mill-flag.lamp"]
    mend()
    board.refresh()
    assert not lit(board, "lamp", "mill-flag")


def test_refresh_writes_what_is_shown_over_what_a_chip_forgot(board: Board) -> None:
    board.show(SWITCH, "red", Shows.STEADY)
    board.outputs[SWITCH, "red"].pin.state = False
    board.refresh()
    assert lit(board, "red")


def test_wires_without_a_pin_get_simulated_ones(factory: SimulatedFactory, clock: Clock) -> None:
    board = Board(mill(hasp=None, red=None), factory, clock)
    put = []
    board.watch(lambda *reading: put.append(reading))
    (hasp,) = [c for c in mill(hasp=None).contacts if c.name == "mill-switch.hasp"]
    factory.hand(hasp, True)
    assert [reading[1:] for reading in put] == [("mill-switch.hasp", True)]
    board.show(SWITCH, "red", Shows.STEADY)
    assert lit(board, "red")
    board.close()


def test_a_board_that_cannot_be_built_gives_its_pins_back(
    factory: SimulatedFactory, clock: Clock
) -> None:
    with pytest.raises(gpiozero.GPIOPinInUse):
        Board(mill(bolt=HeaderPin(5)), factory, clock)
    Board(mill(), factory, clock).close()


def test_closing_makes_safe_and_gives_all_back(factory: SimulatedFactory, clock: Clock) -> None:
    board = Board(mill(), factory, clock)
    bolt = board.outputs[SWITCH, "bolt"].pin
    written = []
    bolt.__class__ = type(
        "Noted", (type(bolt),), {"_set_state": lambda self, value: written.append(value)}
    )
    board.show(SWITCH, "bolt", Shows.DRAWN)
    board.close()
    board.close()
    assert written == [True, False]
    assert board.levels() == {}
    Board(mill(), factory, clock).close()

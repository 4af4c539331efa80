"""Electrical figures against worked examples that others published; each test names its source."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from firmware_py.layout.electrics import NOT_SAID, BoltDrive, Driver, PiModel, Wiring
from firmware_py.layout.model import Kind, Layout
from firmware_py.layout.reading import parse_layout
from firmware_py.wiring.checks import electrical_figures, faults_of
from firmware_py.wiring.figure import Figure, plain
from firmware_py.wiring.formulas import (
    E24,
    branches,
    divided,
    e24_up,
    fall_s,
    fuse_for,
    lead_ohms,
    led_resistor,
    rating,
    rise_s,
)
from firmware_py.wiring.header import ALL_PINS_UA, DRIVER_INPUT_UA, PADS
from firmware_py.wiring.lamps import lamp_of, pin_ua


@pytest.mark.parametrize(
    ("volts", "forward", "driver", "milliamperes", "exact", "e24", "gives_ma", "watts"),
    [
        pytest.param(9, 2.0, 0, 20, 350, 360, 19.4, 0.14, id="hobby-hour.com"),
        pytest.param(3.3, 1.8, 0, 10, 150, 150, 10.0, 0.015, id="fixme.ch"),
        pytest.param(5, 2.0, 0, 10, 300, 300, 10.0, 0.03, id="calculated with eseries"),
        pytest.param(3.3, 2.0, 0, 3, 433, 470, 2.8, 0.004, id="calculated with eseries, Pi pin"),
        pytest.param(12, 2.0, 1.0, 10, 900, 910, 9.9, 0.09, id="calculated, through ULN2803"),
    ],
)
def test_worked_examples_of_led_resistors(
    volts: float,
    forward: float,
    driver: float,
    milliamperes: float,
    exact: float,
    e24: float,
    gives_ma: float,
    watts: float,
) -> None:
    found = led_resistor(volts, forward, driver, milliamperes / 1000)
    assert found.exact == pytest.approx(exact, rel=0.002)
    assert found.ohms == e24
    assert found.amperes * 1000 == pytest.approx(gives_ma, rel=0.02)
    assert found.watts == pytest.approx(watts, rel=0.15)
    assert found.rating >= 2 * found.watts


@given(st.floats(1.0, 9.9e6))
def test_e24_against_the_library_eseries(ohms: float) -> None:
    eseries = pytest.importorskip("eseries")
    wanted = float(f"{ohms:.6g}")
    theirs = eseries.find_greater_than_or_equal(eseries.E24, wanted)
    assert e24_up(wanted) == pytest.approx(theirs, rel=1e-9)


def test_e24_of_every_value_is_itself_and_a_hair_more_is_the_next() -> None:
    """IEC 60063's list, as the library eseries 1.2.1 has it too."""
    eseries = pytest.importorskip("eseries")
    assert list(E24) == list(eseries.series(eseries.E24))
    for decade in range(6):
        for at, step in enumerate(E24):
            value = float(step * 10**decade)
            following = float((*E24, 100)[at + 1] * 10**decade)
            assert e24_up(value) == value
            assert e24_up(value * 1.0001) == following


def test_a_resistance_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="above 0"):
        e24_up(0)


@pytest.mark.parametrize(
    ("low_v", "high_v", "rise", "fall"),
    [
        pytest.param(0.9, 1.6, 0.66, 1.30, id="Pi 0 to 3"),
        pytest.param(0.8, 2.0, 0.93, 1.42, id="Pi 4"),
        pytest.param(0.66, 2.64, 1.61, 1.61, id="MCP23017"),
    ],
)
def test_rc_factors(low_v: float, high_v: float, rise: float, fall: float) -> None:
    """Table of RC times at 3.3 V, from Ganssle's formulas and the two data sheets' levels."""
    assert rise_s(1, 1, 3.3, high_v) == pytest.approx(rise, abs=0.006)
    assert fall_s(1, 1, 3.3, low_v) == pytest.approx(fall, abs=0.006)


def test_rc_of_10_kohm_and_1_uf_on_an_mcp23017() -> None:
    """16 ms: the same table's example."""
    assert rise_s(10_000, 1e-6, 3.3, 0.8 * 3.3) == pytest.approx(0.016, abs=0.0002)


@pytest.mark.parametrize("pi", list(PiModel))
def test_rc_steps_against_scipy(pi: PiModel) -> None:
    """The step of a first-order system, solved by scipy.signal."""
    signal = pytest.importorskip("scipy.signal")
    numpy = pytest.importorskip("numpy")
    ohms, farads, volts, pads = 3_200.0, 100e-9, 3.3, PADS[pi]
    times = numpy.linspace(0, 6 * ohms * farads, 60_001)
    _, up = signal.step(signal.TransferFunction([volts], [ohms * farads, 1]), T=times)
    reached = times[numpy.argmax(up >= pads.high_v)]
    left = times[numpy.argmax(volts - up <= pads.low_v)]
    assert rise_s(ohms, farads, volts, pads.high_v) == pytest.approx(reached, rel=1e-3)
    assert fall_s(ohms, farads, volts, pads.low_v) == pytest.approx(left, rel=1e-3)


def test_pads_of_the_models() -> None:
    """Raspberry Pi documentation: a Pi 4's drive steps are half of the older ones'."""
    older, four, five = PADS[PiModel.THREE], PADS[PiModel.FOUR], PADS[PiModel.FIVE]
    assert (older.low_v, older.high_v, older.default_ma, older.most_ma) == (0.9, 1.6, 8, 16)
    assert (four.low_v, four.high_v, four.default_ma, four.most_ma) == (0.8, 2.0, 4, 8)
    assert (older.pull_least_ohm, older.pull_most_ohm) == (50_000, 65_000)
    assert (four.pull_least_ohm, four.pull_most_ohm) == (33_000, 73_000)
    assert five.most_ma == 12
    assert five.assumed


def test_sixteen_lamps_at_3_ma_are_the_headers_whole_budget() -> None:
    """Raspberry Pi documentation: 50 mA over all GPIO, about 3 mA a pin."""
    red = pin_ua("red", Kind.SWITCH, NOT_SAID)
    assert ALL_PINS_UA // red == 16
    assert 17 * red > ALL_PINS_UA


def test_a_drivers_input_is_counted_high_enough() -> None:
    """ULN2803A: 2.7 kohm before two diode drops of 1.4 V; and the 10 kohm pull-down."""
    assert DRIVER_INPUT_UA >= ((3.3 - 1.4) / 2700 + 3.3 / 10_000) * 1e6


def test_a_gate_on_a_pin_that_is_pulled_up_at_boot() -> None:
    """33 kohm against a 10 kohm pull-down leaves 0.77 V: why drivers go on 9 to 27."""
    assert divided(3.3, 33_000, 10_000) == pytest.approx(0.77, abs=0.005)


def test_a_series_resistor_on_the_wrong_side_of_the_pull_up() -> None:
    """2.2 kohm over 1 kohm is 1.03 V, above every low level: the contacts page."""
    assert divided(3.3, 2_200, 1_000) == pytest.approx(1.03, abs=0.005)


def test_sizes() -> None:
    """Common practice: twice the heat, a quarter more than the load; no fuse above its wire."""
    assert [rating(w) for w in (0.05, 0.0625, 0.07, 0.2, 40)] == [0.125, 0.125, 0.25, 0.5, 5.0]
    assert [fuse_for(a) for a in (0.01, 0.22, 0.8, 3.0)] == [0.1, 0.315, 1.0, 4.0]
    assert lead_ohms(10, 0.25) == pytest.approx(1.4)
    assert branches(0.22, 0.25) == (1, 0.315)
    count, fuse = branches(3.0, 0.25)
    assert (count, fuse) == (3, 1.25)
    assert fuse <= 0.25 * 6


@given(st.floats(0.001, 20), st.floats(0.05, 6))
def test_no_branch_is_fused_above_its_wire_or_below_its_load(amperes: float, area: float) -> None:
    count, fuse = branches(amperes, area)
    assert fuse >= amperes / count * 1.25 - 1e-6
    assert fuse <= max(area * 6, 0.1) + 1e-6 or math.isclose(fuse, area * 6)


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (470, "ohm", "470 ohm"),
        (2200, "ohm", "2.2 kohm"),
        (0.0015, "A", "1.5 mA"),
        (4.5e-5, "A", "45 uA"),
        (0.9999, "s", "1 s"),
        (0, "A", "0 A"),
    ],
)
def test_numbers_are_shown_to_three_figures(value: float, unit: str, shown: str) -> None:
    assert plain(value, unit) == shown


STAND = """
[[switch]]
id = "pit-switch"
contacts = {{ hasp = 4, normal = 5, reverse = 6, detector = 12 }}
lamps = {{ green = 20, red = 21, white = 22 }}
bolt = {bolt}
buzzer = 24
[[spur]]
id = "pit"
switch = "pit-switch"
power = 25
{more}
"""


def stand(more: str = "", bolt: str = "23") -> Layout:
    return parse_layout(STAND.format(more=more, bolt=bolt), "f")


def figures(layout: Layout) -> dict[str, Figure]:
    return {f"{one.about}: {one.what}": one for one in electrical_figures(layout)}


def only(layout: Layout, fragment: str) -> Figure:
    (found,) = [one for name, one in figures(layout).items() if fragment in name]
    return found


def with_wiring(layout: Layout, **changed: object) -> Layout:
    return replace(layout, wiring=Wiring(**changed))  # type: ignore[arg-type]  # of many types


def test_every_figure_has_formula_and_source_and_a_plain_stand_is_right() -> None:
    layout = stand()
    assert faults_of(electrical_figures(layout)) == ()
    for figure in electrical_figures(layout):
        assert figure.value
        assert figure.formula
        assert figure.source


def test_what_is_given_is_not_called_assumed() -> None:
    assert "red_v = 2" in only(stand(), "red lamps").assumed
    told = with_wiring(stand(), red_v=1.8, led_ma=3.0)
    red = only(told, "red lamps")
    assert red.assumed == ()
    assert red.value.startswith("510 ohm")  # 1.5 V / 3 mA = 500 ohm.


def test_white_and_blue_leds_have_nothing_left_of_3_3_v() -> None:
    """Forward voltages of 3.2 and 3.3 V: meta-matic.com."""
    assert not lamp_of("white", NOT_SAID).direct
    assert not lamp_of("blue", NOT_SAID).direct
    assert lamp_of("red", NOT_SAID).direct
    short = only(with_wiring(stand(), supply_v=3.3), "white lamps")
    assert short.wrong
    assert "supply_v" in short.wrong


def test_at_12_v_lamps_go_through_a_uln2803a() -> None:
    lamp = lamp_of("red", Wiring(supply_v=12.0))
    assert (lamp.direct, lamp.driver_v, lamp.milliamperes) == (False, 1.0, 10.0)
    assert lamp_of("red", Wiring(supply_v=12.0, driver=Driver.MOSFET)).driver_v == 0.0


def test_wetting_current() -> None:
    """2.2 kohm gives 1.5 mA; a micro-load switch wants 1 mA (Omron SS)."""
    assert only(stand(), "micro switches").value == "1.5 mA"
    assert only(stand(), "micro switches").wrong is None
    assert only(with_wiring(stand(), pull_up_ohm=10_000.0), "micro switches").wrong


@pytest.mark.parametrize(
    ("pi", "shown"),
    [(PiModel.FOUR, "45.2 uA to 100 uA"), (PiModel.THREE, "50.8 uA to 66 uA")],
)
def test_internal_pull_ups(pi: PiModel, shown: str) -> None:
    """3.3 V over the pulls that Raspberry Pi's documentation gives: 45-100 uA on a Pi 4."""
    assert only(with_wiring(stand(), pi=pi), "own pull-up").value == shown


def test_a_filter_slower_than_the_settle_time_is_wrong() -> None:
    slow = with_wiring(stand(), pull_up_ohm=100_000.0)
    assert faults_of(electrical_figures(slow))
    quick = stand("[times]\nsettle = 0.0005")
    assert any("settle" in (one.wrong or "") for one in electrical_figures(quick))


@pytest.mark.parametrize(
    ("metres", "word"), [(1.0, "twisted pair for"), (5.0, "100 nF"), (20, "TVS")]
)
def test_advice_by_length_of_lead(metres: float, word: str) -> None:
    assert word in only(with_wiring(stand(), lead_m=metres), "from stand to Pi").value


def test_a_bolt_above_a_channels_current_gets_a_mosfet_and_a_diode_of_its_own() -> None:
    """A ULN2803A is planned for 200 mA a channel at 3.3 V drive (from memory)."""
    assert "ULN2803A" in only(stand(), "bolts").value
    strong = only(with_wiring(stand(), bolt_ma=400.0), "bolts").value
    assert "MOSFET" in strong
    assert "flyback diode of 400 mA" in strong


def test_servo_steps() -> None:
    """50 Hz in 4096 steps: 4.9 us (tosyaelectronics.com, calculated)."""
    servo = only(with_wiring(stand(), bolt=BoltDrive.SERVO), "each servo")
    assert "4.88 us" in servo.formula
    assert "200 us" in servo.formula


def test_a_bolt_on_an_expander_is_wrong() -> None:
    assert "9 to 13" in (only(stand(bolt='"box:3"'), "bolt of pit-switch").wrong or "")


def test_the_rail_says_when_it_gives_too_much() -> None:
    assert only(stand(), "3.3 V rail").wrong is None
    weak = only(with_wiring(stand(), rail_ma=10.0), "3.3 V rail")
    assert weak.wrong
    assert "regulator" in weak.wrong


def test_more_than_50_ma_on_the_header() -> None:
    rows = "".join(
        f'[[switch]]\nid = "s{n}"\nlock = "none"\n'
        'contacts = { normal = "auto", reverse = "auto" }\n'
        f"lamps = {{ green = {at[0]}, red = {at[1]} }}\n"
        for n, at in enumerate(zip(range(9, 28, 2), range(10, 28, 2), strict=False))
    )
    layout = parse_layout(rows, "f")
    assert only(layout, "header: 18 outputs").wrong

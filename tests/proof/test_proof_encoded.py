"""The exploration against a second encoding in a general solver: one spur, properties 1 and 2."""

from firmware_py.core.names import Shows
from firmware_py.layout.reading import parse_layout
from firmware_py.proof.explore import explore
from tests.proof.encoded import never_elsewhere, reached
from tests.proof.proof_layouts import ENCODED

LAYOUT = parse_layout(ENCODED, "encoded.toml")
DEPTH = 7


def explored() -> set[tuple[str, bool, bool, bool]]:
    """Every stage with what green, bolt and power show, as the core has it."""
    watch = explore(LAYOUT).watch
    [stand] = watch.stands
    look = {fitted.output: fitted.look for fitted in stand.fitted if fitted.output != "lamp"}
    found: set[tuple[str, bool, bool, bool]] = set()

    def see() -> None:
        lamps = (
            look["green"]() is Shows.STEADY,
            look["bolt"]() is Shows.DRAWN,
            look["power"]() is Shows.ON,
        )
        found.add((str(stand.switch.stage), *lamps))

    for _ in watch.memory.runs({}, see):
        pass
    return found


def test_both_reach_the_same_stages_and_outputs() -> None:
    mine = explored()
    assert reached(DEPTH) == mine
    assert len(mine) >= 12


def test_the_solver_proves_that_there_are_no_others() -> None:
    assert never_elsewhere(explored())


def test_a_set_that_lacks_one_is_noticed() -> None:
    mine = explored()
    assert not never_elsewhere(mine - {min(mine)})

"""Every state of the commissioning page, shown as a sitting would show it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from pathlib import Path

import msgspec
from commissioning.layouts import kiln
from playwright.sync_api import Page, expect

from firmware_py.commissioning.model import Finding, Instruction, Kind, Step
from firmware_py.commissioning.showing import Shown, State, Usual, about_of
from firmware_py.commissioning.wires import wires_of
from firmware_py.logbook.commissioning import Signed, begin, sign
from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.sitting import Showing
from manners.views import View

HASP, NORMAL = "kiln-switch.hasp", "kiln-switch.normal"
WRONG = Finding(
    Kind.SWAPPED,
    (HASP, NORMAL),
    f"{HASP} and {NORMAL} are swapped: the wire of {HASP} ends at the pin of {NORMAL}; "
    f"the wire of {NORMAL} ends at the pin of {HASP}",
    "change the wires over at their pins, or the pins in the layout file",
)
USUAL = Usual("N. Tallow", "Kiln lane", "a torch", "", "none", "not in order: 1 fault left")
BEAT_S = 0.5


def shown(
    step: Step, number: int, text: str, about: str | None = None, remark: str = "", **more: object
) -> Shown:
    """What a sitting shows at a step."""
    asked = Instruction(number, step, text, about, remark=remark, again=bool(remark), done=4, of=10)
    base = Shown(State.ASKING, asked, "kiln-switch", True, None, {}, {"kiln-switch": 4})
    return msgspec.structs.replace(base, **more)


MAKE = shown(
    Step.MAKE,
    2,
    "Close the hasp of the kiln switch and lock it.",
    HASP,
    f"{NORMAL} moved instead of {HASP}",
    levels={HASP: False, NORMAL: True, "kiln-key.hook": None},
)
LOOK = shown(Step.LOOK, 3, "Is the red lamp of the kiln switch lit?", "red of kiln-switch")
LISTEN = shown(
    Step.LISTEN, 4, "Touch nothing for 10 s: the leads are listened to.", waits=False, left_us=10**7
)
END = shown(Step.FINISHED, 5, "Every wire is through.", findings=(WRONG,), usual=USUAL)


class Sat:
    """A sitting that beats, and shows whatever a view wants to see."""

    def __init__(self, logbook: Path) -> None:
        engine = open_engine(str(logbook))
        self.record = begin(engine, "Kiln lane", simulated=True, wall_us=1)
        found = msgspec.json.encode([WRONG]).decode()
        sign(engine, self.record, "{}", found, Signed(*["the mill"] * 6, 1, 2))
        engine.dispose()
        about = about_of(wires_of(kiln()), "Kiln lane", "spurlock commission", simulated=True)
        told = msgspec.json.encode(about).decode()
        self._shown = msgspec.json.encode(MAKE).decode()
        self._showing = Showing(str(logbook), self.record, told, self._shown)
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._beat, daemon=True)
        self._thread.start()

    def show(self, wanted: Shown, text: str, *clicks: str) -> Callable[[Page], None]:
        """Have it show something, and wait until a page does; then press these."""

        def arrive(page: Page) -> None:
            self._shown = msgspec.json.encode(wanted).decode()
            expect(page.locator("#says")).to_have_text(text)
            for one in clicks:
                page.locator(one).first.click()

        return arrive

    def views(self) -> Sequence[View]:
        """All states of the page, and a record."""
        resting = msgspec.structs.replace(MAKE, state=State.RESTING)
        signed = msgspec.structs.replace(END, state=State.SIGNED, record=self.record)
        stopped = msgspec.structs.replace(MAKE, state=State.STOPPED)
        path, other = "/commission", "[data-say=else]:not([aria-disabled])"
        return (
            View("a move", path, self.show(MAKE, MAKE.asked.text), host=True),
            View("a move seen by a guest", path, self.show(MAKE, MAKE.asked.text)),
            View("what is on", path, self.show(LOOK, LOOK.asked.text, other), host=True),
            View("listening", path, self.show(LISTEN, LISTEN.asked.text)),
            View("through", path, self.show(END, END.asked.text), host=True),
            View("stopped for now", path, self.show(resting, "Stopped for now"), host=True),
            View("signed", path, self.show(signed, "Signed and kept")),
            View("ended", path, self.show(stopped, "The test was stopped")),
            View("record", f"/commission/records/{self.record}"),
            View("record of none", "/commission/records/999"),
        )

    def close(self) -> None:
        """End it."""
        self._over.set()
        self._thread.join()
        self._showing.close()

    def _beat(self) -> None:
        while not self._over.wait(BEAT_S):
            self._showing.show(self._shown)

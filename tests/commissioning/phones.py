"""``spurlock commission --phone`` as a process, and what a page can ask of it."""

from __future__ import annotations

import contextlib
import json
import subprocess
import sys
import urllib.error
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from service.processes import SPURLOCK, Running, free_port, until

from .faults import Wrong

ROOT = Path(__file__).parents[2]
SMALL = """\
[layout]
name = "Kiln lane"

[[switch]]
id = "kiln-switch"
contacts = { hasp = "auto", normal = "auto", reverse = "auto" }
lamps = { green = "auto", red = "auto" }
"""
HASP = "kiln-switch.hasp"


class Sat(Running):
    """A sitting that goes on, with a screen: typed at, and asked by pages."""

    def type(self, line: str) -> None:
        """Type a line at its terminal."""
        assert self.process.stdin is not None
        self.process.stdin.write(f"{line}\n".encode())
        self.process.stdin.flush()

    def view(self) -> Any:  # noqa: ANN401 - it is whatever JSON there is
        """What its page is shown."""
        return self.get("/api/commission")

    def shown(self) -> dict[str, Any]:
        """What is so now, of a sitting that lives."""
        view = until(lambda: (found := self.view()) and found["word"] == "live" and found)
        shown: dict[str, Any] = view["sitting"]["shown"]
        return shown

    def ask(self, say: str, number: int | None = None, **more: object) -> tuple[bool, str | None]:
        """Ask as a page does, of the step that goes on or of another; what was answered."""
        view = self.view()
        at = view["sitting"]["shown"]["asked"]["number"] if number is None else number
        body = {"sitting": view["sitting"]["id"], "number": at, "say": say, **more}
        left = self.post("/api/commission/asked", body)
        assert left, self.said

        def answered() -> Any:  # noqa: ANN401 - as above
            said = self.get(f"/api/requests/{left['request']}")
            return said if said and said["accepted"] is not None else None

        said = until(answered, f"never answered: {self.said}")
        return said["accepted"], said["why"]

    def refused(self, body: object) -> tuple[int, str]:
        """The status and the words of something that is not even left."""
        try:
            self.host().post("/api/commission/asked", body).close()
        except urllib.error.HTTPError as refusal:
            with refusal:
                return refusal.code, json.load(refusal)["error"]
        raise AssertionError("it was left")

    def at(self, step: str, about: str | None = None) -> dict[str, Any]:
        """Wait for a step; what is shown then."""

        def there() -> dict[str, Any] | None:
            shown = self.shown()
            asked = shown["asked"]
            fits = asked["step"] == step and about in (None, asked["about"])
            return shown if fits and (shown["waits"] or step == "listen") else None

        return until(there, f"never at {step} {about}: {self.said}") or {}

    def do(self) -> None:
        """Have simulated hands do this step, and wait for the next."""
        number = self.shown()["asked"]["number"]
        until(lambda: self.shown()["waits"])
        assert self.ask("do", number) == (True, None)
        until(lambda: self.shown()["asked"]["number"] != number)


@contextlib.contextmanager
def sitting(
    folder: Path,
    text: str = SMALL,
    wrong: Sequence[Wrong] = (),
    more: Sequence[str] = (),
    stdin: int = subprocess.PIPE,
) -> Iterator[Sat]:
    """A sitting that is heard of, and is ended at last."""
    layout = folder / "kiln.toml"
    layout.write_text(text, encoding="utf-8")
    faults = json.dumps([[one.fault, one.names] for one in wrong])
    command = (sys.executable, "-m", "tests.commissioning.faulty", faults) if wrong else SPURLOCK
    words = ["commission", str(layout), "--simulated", "--listen", "1"]
    words += ["--phone", "--host", "127.0.0.1", *more]
    with contextlib.chdir(ROOT):
        sat = Sat(words, folder, free_port(), command, stdin)
    try:
        until(lambda: (found := sat.view()) and found["word"] == "live", f"not heard: {sat.said}")
        yield sat
    finally:
        sat.stop()
        if sat.process.stdin is not None:
            with contextlib.suppress(OSError):
                sat.process.stdin.close()

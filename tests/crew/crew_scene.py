"""Two crews at Tarn Hollow, whose contacts, clock and screen move only when they are told to."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from flask.testing import FlaskClient
from web_filled import Filler
from web_screen import Screen
from werkzeug.test import TestResponse

from firmware_py.core.names import Command
from firmware_py.logbook.screen.jobs import Car, Job, JobStop, jobs_of, save_job
from firmware_py.logbook.screen.rounds import rounds
from firmware_py.logbook.screen.settings import change, secret
from web.access.links import link_of

NOTE = "Mind the crane: its hook hangs low"
PLACE = "under the crusher"

SLATE = Job(
    "Slate turn",
    "Ada and Bo",
    5,
    "marker",
    ("quarry-key",),
    (
        JobStop("quarry", (Car("the empty hopper"),), (Car("a box car", PLACE),), NOTE),
        JobStop("coal", (), (Car("two gondolas", "at the staithe's end"),)),
    ),
)
MILK = Job("Milk run", "Cy", 3, "", (), (JobStop("dairy"), JobStop("quarry")))


class Scene:
    """The link of each job is in ``links``; ``t`` is the session's time in seconds."""

    def __init__(self, path: Path) -> None:
        self.filler = Filler(str(path))
        self.screen = Screen(path)
        self.t = 0.0
        self.links: dict[str, str] = {}
        for job in (SLATE, MILK):
            self.add(job)
        self.screen.wake(self.filler)

    @property
    def guest(self) -> FlaskClient:
        return self.screen.guest

    def add(self, job: Job) -> str:
        """Save a job, and give the link that its crew gets."""
        ident = save_job(self.screen.engine, "Tarn Hollow", job, round(self.t * 1e6) + 1)
        self.links[job.name] = self.link(ident)
        self.screen.look()
        return self.links[job.name]

    def link(self, ident: int) -> str:
        engine = self.screen.engine
        last = next(iter(rounds(engine, 1)), 0)
        return link_of(secret(engine, "link-secret"), last, ident)

    def job(self, name: str) -> Job:
        return next(job for job in jobs_of(self.screen.engine, "Tarn Hollow") if job.name == name)

    def set(self, name: str, value: str) -> None:
        change(self.screen.engine, name, value)

    def hand(self, *moves: tuple[str, bool | None], wait: float = 3.0) -> None:
        """Move contacts, a second apart, and let them settle."""
        for contact, made in moves:
            self.t += 1.0
            self.filler.read(self.t, contact, made)
        self.pass_time(wait)

    def order(self, command: Command, spur: str, **more: int) -> None:
        self.t += 1.0
        self.filler.order(self.t, command, spur, **more)
        self.pass_time(0.1)

    def pass_time(self, seconds: float) -> None:
        self.t += seconds
        self.filler.wait(self.t)
        self.filler.beat()
        self.screen.look()

    def view(self, name: str = "Slate turn") -> dict[str, Any]:
        """What a crew's page is drawn from now."""
        self.screen.look()
        answer = self.guest.get(f"/api/crew/{self.links[name]}")
        assert answer.status_code == 200, answer.text
        view: dict[str, Any] = answer.get_json()
        return view

    def next(self, name: str = "Slate turn") -> tuple[str, str]:
        """The id and the kind of a job's next step."""
        step = self.view(name)["next"]
        return step["id"], step["kind"]

    def post(self, what: str, body: object, name: str = "Slate turn") -> TestResponse:
        """Ask for something by a crew's link."""
        answer = self.guest.post(f"/api/crew/{self.links[name]}/{what}", json=body)
        self.filler.answer(self.t)
        self.pass_time(0.1)
        return answer

    def tick(self, step: str, stop: int = 0, name: str = "Slate turn") -> int:
        return self.post("ticks", {"stop": stop, "step": step}, name).status_code

    def ready(self) -> None:
        """The slate turn's crew has left the yard with its key."""
        assert self.tick("yard") == 200
        assert self.tick("rear") == 200
        self.hand(("quarry-key.hook", False))

    def opened(self) -> None:
        """The quarry is asked for, released, and open as far as its switch."""
        self.ready()
        assert self.post("orders", {"command": "ask"}).status_code == 202
        self.order(Command.RELEASE, "quarry")
        self.hand(("quarry-flag.rack", True), ("quarry-switch.hasp", False))
        self.hand(("quarry-switch.normal", False), ("quarry-switch.reverse", True))

    def at_work(self) -> None:
        """The gate and the chock are off too, and the train is in."""
        self.opened()
        self.hand(("quarry-gate.hasp", False), ("quarry-gate.shut", False))
        self.hand(("quarry-chock.rack", True))
        assert self.tick("horn") == 200
        self.hand(("quarry-switch.detector", True))

    def put_back(self) -> None:
        """Everything at the quarry goes back in its order, and its session's round ends."""
        self.order(Command.WORK_DONE, "quarry")
        self.hand(("quarry-switch.detector", False))
        self.hand(("quarry-gate.shut", True), ("quarry-gate.hasp", True))
        self.order(Command.HAND_BACK, "quarry")
        self.hand(("quarry-flag.rack", False))
        self.hand(("quarry-switch.reverse", False), ("quarry-switch.normal", True))
        self.hand(("quarry-switch.hasp", True))

    def close(self) -> None:
        self.screen.close()
        self.filler.close()

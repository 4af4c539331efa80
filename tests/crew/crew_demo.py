"""Crews' phones over the real demo: links, pages, and what a page has spoken and sounded."""

from __future__ import annotations

import time
from pathlib import Path

from playwright.sync_api import Browser, BrowserContext, Page
from service.processes import Running, until

from firmware_py.logbook.opening import open_engine
from firmware_py.logbook.requests import leave_session
from firmware_py.logbook.screen.jobs import Job, save_job
from firmware_py.logbook.screen.rounds import rounds
from firmware_py.logbook.screen.settings import change, secret
from web.access.links import link_of
from web.crew.own import SETTING

PHONE = (360, 740)
PATIENCE_MS = 60_000
MUTE = """
Object.defineProperty(window, "speechSynthesis", { value: undefined });
Object.defineProperty(window, "SpeechSynthesisUtterance", { value: undefined });
"""


class Evening:
    """The demo's evening as crews come to it. The jobs that the demo brings are left alone."""

    def __init__(self, demo: Running, folder: Path, browser: Browser) -> None:
        self.demo = demo
        self.engine = open_engine(str(folder / "demo" / "logbook.sqlite"))
        self._browser = browser
        self._contexts: list[BrowserContext] = []
        self.errors: list[str] = []
        state = until(lambda: demo.get("/api/state"))
        self.layout: str = state["head"]["layout"]

    def job(self, job: Job) -> str:
        """Make a job; the path of its crew's page, once the screen knows it."""
        ident = save_job(self.engine, self.layout, job, 1)
        last = next(iter(rounds(self.engine, 1)), 0)
        link = link_of(secret(self.engine, "link-secret"), last, ident)
        until(lambda: self.demo.get(f"/api/crew/{link}"), "the job was never drawn")
        return f"/crew/{link}"

    def only_steps(self, steps: str) -> None:
        """Which of the crew's own steps are wanted: a JSON list."""
        change(self.engine, SETTING, steps)

    def phone(
        self,
        path: str,
        size: tuple[int, int] = PHONE,
        *,
        script: str = "",
        host: bool = False,
        scheme: str = "light",
    ) -> Page:
        """A phone of its own that shows a page; ``host`` has given the PIN before."""
        context = self._browser.new_context(color_scheme="dark" if scheme == "dark" else "light")
        context.set_default_timeout(PATIENCE_MS)
        self._contexts.append(context)
        if script:
            context.add_init_script(script)
        if host:
            name, _, value = self.demo.host().sign_in()["Cookie"].partition("=")
            context.add_cookies([{"name": name, "value": value, "url": self.demo.address}])
        page = context.new_page()
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.goto(self.demo.address + path)
        page.locator("body[data-live=yes]").wait_for()
        return page

    def hands(self, *moves: tuple[str, bool]) -> None:
        """Move contacts, each of which has settled before the next one moves."""
        for contact, made in moves:
            self.demo.hand(contact, made)
            until(lambda contact=contact, made=made: self._settled(contact) is made)

    def order(self, command: str, spur: str) -> None:
        """What the host orders."""
        assert self.demo.post("/api/orders", {"command": command, "spur": spur}) is not None

    def close_session(self) -> None:
        """The host closes the evening."""
        leave_session(self.engine, "close", time.time_ns() // 1_000)

    def _settled(self, contact: str) -> bool | None:
        state = self.demo.get("/api/state") or {"contacts": {}}
        settled: bool | None = state["contacts"].get(contact, {}).get("settled")
        return settled

    def close(self) -> None:
        for context in self._contexts:
            context.close()
        self.engine.dispose()

"""Another release in the place of the one that runs, and back again if it is not well."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from pathlib import PurePosixPath as Place

import msgspec

from firmware_py.install.clubs import club_now
from firmware_py.install.doing import Builder, link, write
from firmware_py.install.errors import InstallError
from firmware_py.install.files import File
from firmware_py.install.machine import Machine
from firmware_py.install.places import CURRENT, RECORD, RELEASES, TARGET_UNIT, Box
from firmware_py.install.planning import linked
from firmware_py.install.proving import Sign, look, prove
from firmware_py.install.record import Installed, read, text_of
from firmware_py.install.releases import build, version_in
from firmware_py.install.saving import Saved, put_back, save, texts
from firmware_py.install.texts import answered, asked

TEXTS_WITHIN_S = 60.0
Proof = Callable[[Callable[[], Sign]], str | None]


@dataclass(frozen=True, slots=True)
class Upgrade:
    """An upgrade of what is installed on a machine, from a folder of wheels.

    ``say`` hears what is being done; ``builder`` makes the release and ``proof`` judges it.
    """

    machine: Machine
    wheels: Path
    say: Callable[[str], None]
    builder: Builder = build
    proof: Proof = prove

    def run(self, now: datetime) -> bool:
        """Do it; whether the new release is kept. Raises ``InstallError`` if nothing was begun."""
        was = installed(self.machine)
        becomes = self.becomes(was)
        release = self.machine.at(RELEASES / becomes.release)
        self.say(f"Building {becomes.version}; {was.version} guards on meanwhile.")
        self.builder(self.machine, release, self.wheels)
        old = texts(self.machine, was.files)
        try:
            saved = self._stopped(was, now)
        except InstallError:
            shutil.rmtree(release, ignore_errors=True)
            self.machine.systemctl("start", TARGET_UNIT)
            raise
        amiss = self._begun(becomes, release)
        if amiss is None:
            tried = (
                "is well, and is kept" if self.machine.live else "is in place, but was not tried"
            )
            self.say(f"{becomes.version} {tried}.")
            self._tidy({becomes.release, was.release})
            return True
        self.say(f"{becomes.version} is not well: {amiss}. Going back to {was.version}.")
        self._back(was, becomes, old, saved, now)
        shutil.rmtree(release, ignore_errors=True)
        return False

    def becomes(self, was: Installed) -> Installed:
        """What will be installed."""
        version = version_in(self.wheels)
        release, number = version, 1
        while self.machine.at(RELEASES / release).exists():
            number += 1
            release = f"{version}-{number}"
        changed = {"release": release, "version": version, "before": was.release}
        club = club_now(self.machine, was.box)
        return msgspec.structs.replace(was, **changed, club=club)

    def _stopped(self, was: Installed, now: datetime) -> Saved:
        if self.machine.live:
            self.say("Stopping: bolts shut, power off. Treat every switch as red.")
        self.machine.systemctl("stop", TARGET_UNIT)
        saved = save(self.machine, was.box, f"before-upgrade-{now:%Y-%m-%d-%H%M%S}")
        self.say(f"Layout and logbook as {was.version} left them are kept in {saved.folder}.")
        return saved

    def _begun(self, becomes: Installed, release: Path) -> str | None:
        """Start the new release; what is amiss with it, if anything is."""
        try:
            fresh = _texts_of(release, becomes.box)
            written = tuple(str(file.path) for file in fresh)
            for path in set(becomes.files) - set(written):  # A courier of no club any more, say.
                self.machine.at(Place(path)).unlink(missing_ok=True)
            self._put(msgspec.structs.replace(becomes, files=written), fresh)
        except (InstallError, OSError) as error:
            return str(error)
        return self._well(becomes)

    def _put(self, record: Installed, files: Sequence[File]) -> None:
        for file in files:
            write(self.machine, file)
        link(self.machine.at(CURRENT), str(linked(record.release)))
        write(self.machine, File(RECORD, text_of(record)))
        self.machine.systemctl("daemon-reload")
        self.machine.systemctl("start", TARGET_UNIT)

    def _well(self, what: Installed) -> str | None:
        if not self.machine.live:
            return None  # Nothing runs under another root that could be well or not.
        return self.proof(partial(look, self.machine, what.box))

    def _back(
        self,
        was: Installed,
        becomes: Installed,
        old: Sequence[File],
        saved: Saved,
        now: datetime,
    ) -> None:
        self.machine.systemctl("stop", TARGET_UNIT)
        known = {file.path for file in old}
        for path in set(read_files(self.machine, becomes)) - known:
            self.machine.at(path).unlink(missing_ok=True)
        aside = put_back(self.machine, was.box, saved, now)
        if aside is not None:
            self.say(f"The logbook is as it was; what {becomes.version} wrote is in {aside}.")
        self._put(was, old)
        amiss = self._well(was)
        if amiss is not None:
            self.say(f"{was.version} is back, but not well either: {amiss}. Ask spurlock doctor.")
        else:
            self.say(f"{was.version} guards again.")

    def _tidy(self, keep: set[str]) -> None:
        for folder in self.machine.at(RELEASES).iterdir():
            if folder.name not in keep:
                shutil.rmtree(folder, ignore_errors=True)


def installed(machine: Machine) -> Installed:
    """What is installed. Raises ``InstallError`` if nothing is."""
    found = read(machine.root)
    if found is None:
        raise InstallError("Spurlock is not installed here as a service; see spurlock install")
    return found


def read_files(machine: Machine, otherwise: Installed) -> list[Place]:
    """The files of the record as it is now."""
    return [Place(path) for path in (read(machine.root) or otherwise).files]


def _texts_of(release: Path, box: Box) -> tuple[File, ...]:
    # -P: whatever folder this is run in, it is the release that is asked.
    command = [str(release / "bin" / "python"), "-P", "-m", "firmware_py.install.texts"]
    try:
        ran = subprocess.run(
            command, input=asked(box), capture_output=True, timeout=TEXTS_WITHIN_S, check=False
        )
    except (OSError, subprocess.SubprocessError) as error:
        raise InstallError(f"it can't be run: {error}") from error
    if ran.returncode:
        last = ran.stderr.decode("utf-8", "replace").strip().splitlines()[-1:] or ["no word"]
        raise InstallError(f"it does not even begin ({last[0]})")
    return answered(ran.stdout)

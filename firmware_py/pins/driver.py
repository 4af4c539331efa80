"""One output line: requested at a safe level, written, and found again when its chip was gone."""

from __future__ import annotations

from threading import RLock

from firmware_py.pins.kernel import HEADER, ChipAbsentError, Kernel, Request, no_header
from firmware_py.pins.wiring import PinsError


class Driver:
    """Drives one line. ``level`` is what was last asked for, high being True.

    Writes may come from the engine's thread and from the flasher's, and are kept apart here.
    """

    def __init__(self, kernel: Kernel, chip: str, offset: int) -> None:
        self.level = False
        self._kernel = kernel
        self._chip = chip
        self._offset = offset
        self._lock = RLock()
        self._request: Request | None = None

    def begin(self, level: bool) -> None:
        """Request the line at ``level``; an absent chip is left for the next write.

        Errors: ``PinsError`` if there is no such line or no header, or the kernel refuses it.
        """
        with self._lock:
            self.release()
            self.level = level
            try:
                self._open()
            except ChipAbsentError as error:
                if self._chip == HEADER:
                    raise no_header(error) from error
            except OSError as error:
                raise PinsError(
                    f"GPIO chip {self._chip} refuses line {self._offset} as an output: "
                    f"{error.strerror or error}; is it in use by another program or driver?"
                ) from error

    def write(self, level: bool) -> None:
        """Set the level; ``OSError`` if the chip does not answer, and the next write tries anew."""
        with self._lock:
            self.level = level
            if self._request is not None:
                try:
                    self._request.set_level(level)
                except OSError:
                    # The chip may have gone and come back, so a new request gets one try.
                    self.release()
                else:
                    return
            self._open()

    def release(self) -> None:
        """Give the line back to the kernel."""
        with self._lock:
            request, self._request = self._request, None
            if request is not None:
                try:
                    request.release()
                except OSError:
                    # A dead chip's request can't be given back, and need not be.
                    return

    def _open(self) -> None:
        path, size = self._kernel.find(self._chip)
        if self._offset >= size:
            raise PinsError(
                f"GPIO chip {self._chip} has lines 0 to {size - 1}, so no line {self._offset}"
            )
        self._request = self._kernel.output(path, self._offset, self.level)

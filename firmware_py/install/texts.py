"""``python -m firmware_py.install.texts``: a release's own files, for the older one that renews it.

Takes a box as JSON on standard input and prints its files as JSON, so that units which changed
between the two are the newer release's.
"""

from __future__ import annotations

import sys
from pathlib import PurePosixPath as Place

import msgspec

from firmware_py.install.errors import InstallError
from firmware_py.install.files import File, files
from firmware_py.install.places import Box


class _Text(msgspec.Struct, frozen=True):
    path: str
    text: str
    mode: int


def asked(box: Box) -> bytes:
    """What to put on the standard input of this module."""
    return msgspec.json.encode(box)


def answered(said: bytes) -> tuple[File, ...]:
    """The files in what this module printed. Raises ``InstallError`` if it can't be understood."""
    try:
        texts = msgspec.json.decode(said, type=list[_Text])
    except msgspec.MsgspecError as error:
        raise InstallError(f"the new release gives no files: {error}") from error
    return tuple(File(Place(text.path), text.text, text.mode) for text in texts)


def main() -> None:
    """Answer."""
    box = msgspec.json.decode(sys.stdin.buffer.read(), type=Box)
    texts = [_Text(str(file.path), file.text, file.mode) for file in files(box)]
    sys.stdout.buffer.write(msgspec.json.encode(texts))


if __name__ == "__main__":
    main()

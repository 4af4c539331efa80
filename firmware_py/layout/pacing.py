"""Writing into a layout's text how long its paced waits are, as a session's dial has it.

A session keeps the text as it was in force, so that its tape replays to what it logged.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from typing import Any

KEY = "wait_scale"
_HEADING = re.compile(r"^[ \t]*\[[ \t]*layout[ \t]*\][^\r\n]*(\r?\n|\Z)", re.MULTILINE)
_SAID = re.compile(rf"^[ \t]*{KEY}[ \t]*=[^\r\n]*", re.MULTILINE)


def with_wait_scale(text: str, scale: float) -> str:
    """The text of a sound layout file with ``wait_scale``; all else stays to the letter.

    Only a heading that is written as an inline table may be set out anew. Raises ``ValueError``
    where the text can't be changed so.
    """
    wanted = tomllib.loads(text)
    if _said(wanted) == scale:
        return text
    wanted.setdefault("layout", {})[KEY] = float(scale)
    for made in _tries(text, f"{KEY} = {float(scale)!r}", float(scale)):
        try:
            if tomllib.loads(made) == wanted:
                return made
        except tomllib.TOMLDecodeError:
            continue
    raise ValueError(f"{KEY} can't be written into this text")


def _tries(text: str, line: str, scale: float) -> Iterator[str]:
    """Ways of writing the line in; each is tried by reading it back."""
    for said in _SAID.finditer(text):
        yield text[: said.start()] + line + text[said.end() :]
    for heading in _HEADING.finditer(text):
        end = heading.group(1) or "\n"
        own = heading.group(0) if heading.group(1) else heading.group(0) + end
        yield text[: heading.start()] + own + line + end + text[heading.end() :]
    yield f"{text}\n[layout]\n{line}\n"
    yield from _set_out_anew(text, scale)


def _set_out_anew(text: str, scale: float) -> Iterator[str]:
    import tomlkit  # noqa: PLC0415 - a last resort, which no start need wait for
    from tomlkit.exceptions import TOMLKitError  # noqa: PLC0415

    try:
        document = tomlkit.parse(text)
        document["layout"][KEY] = scale
        yield tomlkit.dumps(document)
    except (TOMLKitError, TypeError):
        return


def wait_scale_of(text: str) -> float:
    """What a layout's text says of its paced waits; 1 where it says nothing."""
    return _said(tomllib.loads(text))


def _said(document: dict[str, Any]) -> float:
    heading = document.get("layout")
    said = heading.get(KEY, 1.0) if isinstance(heading, dict) else 1.0
    return float(said) if isinstance(said, int | float) else 1.0


def same_but_for_waits(kept: str, text: str) -> bool:
    """Whether a session's text ``kept`` is a layout file's, but for the dial it was under."""
    if kept == text:
        return True
    try:
        return with_wait_scale(text, wait_scale_of(kept)) == kept
    except ValueError:  # tomllib's own error is one too.
        return False

"""Text that any database can hold."""

from __future__ import annotations

from typing import overload


@overload
def storable(text: str) -> str: ...
@overload
def storable(text: None) -> None: ...
@overload
def storable(text: str | None) -> str | None: ...
def storable(text: str | None) -> str | None:
    """Text with U+FFFD in place of NUL and of surrogates, which no database takes.

    Those come from bytes in file names and from broken escapes in what a page sends; a note
    with one of them must neither be lost nor hold up the rest.
    """
    if text is None or (text.isascii() and "\0" not in text):
        return text
    return (
        text.encode("utf-16-le", "surrogatepass")
        .decode("utf-16-le", "replace")
        .replace("\0", "\ufffd")
    )

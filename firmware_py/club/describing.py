"""Makes the JSON schemas of ``asyncapi.yaml`` from the messages themselves.

``python -m firmware_py.club.describing`` writes that part of the file anew.
"""

from __future__ import annotations

import inspect
import json
from importlib.resources import as_file, files
from typing import Any

import msgspec

from firmware_py.club.messages import (
    Answer,
    Ask,
    Batch,
    Fetch,
    Health,
    SessionSaid,
    Standing,
)

SPOKEN = (Answer, Ask, Batch, Fetch, Health, SessionSaid, Standing)
BEGIN = "  messages:\n"


def components() -> str:
    """The messages and their schemas, as YAML that is JSON on each line."""
    schemas: dict[str, Any]
    _, schemas = msgspec.json.schema_components(SPOKEN, ref_template="#/components/schemas/{name}")
    messages = [
        f'    {shape.__name__}: {{payload: {{$ref: "#/components/schemas/{shape.__name__}"}}}}'
        for shape in SPOKEN
    ]
    for schema in schemas.values():
        if "description" in schema:  # Which Python indents as the code is, up to 3.12.
            schema["description"] = inspect.cleandoc(schema["description"])
    shapes = [f"    {name}: {json.dumps(schema)}" for name, schema in sorted(schemas.items())]
    return BEGIN + "\n".join([*messages, "  schemas:", *shapes]) + "\n"


def main() -> None:
    """Write the file's last part anew."""
    with as_file(files("firmware_py.club") / "asyncapi.yaml") as path:
        head, _, _ = path.read_text("utf-8").partition(f"components:\n{BEGIN}")
        path.write_text(f"{head}components:\n{components()}", "utf-8")


if __name__ == "__main__":
    main()

"""The AsyncAPI file says what is spoken: its schemas and topics are those of the code."""

from __future__ import annotations

from importlib.resources import files

from firmware_py.club.describing import SPOKEN, components
from firmware_py.club.topics import Said, Told, read_said, read_told, said, told

TEXT = (files("firmware_py.club") / "asyncapi.yaml").read_text("utf-8")


def test_the_schemas_are_those_of_the_messages() -> None:
    assert TEXT.endswith(components())


def test_every_topic_and_message_is_described() -> None:
    for what in Said:
        assert f"address: {said('{box}', what)}" in TEXT
    for order in Told:
        assert f"address: {told('{box}', order)}\n" in TEXT
    for shape in SPOKEN:
        assert f'$ref: "#/components/messages/{shape.__name__}"' in TEXT


def test_a_topic_reads_back_to_what_it_was_made_from() -> None:
    for what in Said:
        assert read_said(said("west", what)) == ("west", what, None)
        assert read_said(said("west", what, "board")) == ("west", what, "board")
    for order in Told:
        assert read_told(told("west", order), "west") is order
        assert read_told(told("west", order), "east") is None
    for stranger in ("", "x", "spurlock/v1/from/west", "spurlock/v1/from//log", "a/b/c/d/e"):
        assert read_said(stranger) is None

"""What a box's things and violations are called on a board that has many boxes. Pure.

``kiln-switch`` of the box ``west-room`` is ``west-room--kiln-switch`` here. Neither a box's name
nor an id has two hyphens in a row, so a name of a board's can be read back in one way only.
"""

from __future__ import annotations

MARK = "--"
NODES = 100
"""A board takes 99 boxes: the last two digits of a violation's number say whose it is."""


def on_board(node: str, ident: str) -> str:
    """A box's id as the board has it."""
    return f"{node}{MARK}{ident}"


def of_node(ident: str) -> tuple[str, str] | None:
    """The box and its own id; ``None`` for an id that is none of a board's."""
    node, mark, own = ident.partition(MARK)
    return (node, own) if mark and node and own else None


def number_on_board(node_id: int, number: int) -> int:
    """A violation's number on the board.

    >>> number_on_board(3, 12), of_number(1203)
    (1203, (3, 12))
    """
    return number * NODES + node_id


def of_number(number: int) -> tuple[int, int]:
    """The box's row id, and the violation's own number."""
    own, node_id = divmod(number, NODES)
    return node_id, own


def title_of(node: str) -> str:
    """What people call a box: its name with spaces and a capital."""
    words = node.replace("-", " ")
    return words[:1].upper() + words[1:]


FITS_SETTING = "club-keys"
"""The setting in which the gatherer leaves which keys fit at other boxes: JSON, key by thing."""

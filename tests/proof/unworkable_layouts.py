"""Twenty layouts whose orders can't be worked: each with the words that must name the reason."""

HEAD = '[layout]\nname = "Osier Hollow"\n'


def _switch(name: str, key: str | None = None) -> str:
    keyed = f'key = "{key}"\n' if key else ""
    contacts = 'contacts = { hasp = "auto", normal = "auto", reverse = "auto" }'
    return f'[[switch]]\nid = "{name}-switch"\n{keyed}{contacts}\n'


def _spur(name: str, opening: str = "", closing: str = "") -> str:
    orders = "".join(
        f"{which} = [{', '.join(repr(step) for step in order.split())}]\n".replace("'", '"')
        for which, order in (("opening", opening), ("closing", closing))
        if order
    )
    return f'[[spur]]\nid = "{name}"\nswitch = "{name}-switch"\n{orders}'


def _thing(kind: str, name: str, spur: str, *, behind: str = "", key: str = "") -> str:
    role = {"gate": 'hasp = "auto", shut', "derail": "on"}.get(kind, "rack")
    more = (f'behind = "{behind}"\n' if behind else "") + (f'key = "{key}"\n' if key else "")
    return f'[[{kind}]]\nid = "{name}"\nspur = "{spur}"\n{more}contacts = {{ {role} = "auto" }}\n'


def _key(name: str, behind: str = "") -> str:
    more = f'behind = "{behind}"\n' if behind else ""
    return f'[[key]]\nid = "{name}"\n{more}contacts = {{ hook = "auto" }}\n'


def _one(kind: str, opening: str = "", closing: str = "") -> str:
    spur = _spur("osier", opening, closing)
    gate = _thing("gate", "g", "osier")
    return HEAD + _switch("osier") + spur + gate + _thing(kind, "it", "osier", behind="g")


def _two(key_a: str, key_b: str) -> str:
    return (
        HEAD
        + _switch("a", "ka")
        + _switch("b", "kb")
        + _spur("a")
        + _spur("b")
        + _thing("gate", "ga", "a")
        + _thing("gate", "gb", "b")
        + _key("ka", key_a)
        + _key("kb", key_b)
    )


def _ring_of_three() -> str:
    text = HEAD
    for name, at in (("a", "b"), ("b", "c"), ("c", "a")):
        text += _switch(name, f"k{name}") + _spur(name) + _thing("gate", f"g{name}", name)
        text += _key(f"k{name}", f"g{at}")
    return text


_FETCH = "needed to fetch itself"
_FIRST = 'put "g" first'
_PLAIN = HEAD + _switch("osier") + _spur("osier")

UNWORKABLE = {
    "flag-behind-a-later-gate": (_one("flag"), 'lies behind "g", which comes off only after'),
    "chock-behind-a-later-gate": (_one("chock", "osier-switch it g"), _FIRST),
    "derail-behind-a-later-gate": (_one("derail"), '"it" lies behind "g"'),
    "gate-behind-a-later-gate": (_one("gate", "osier-switch it g"), _FIRST),
    "flag-shut-in": (_one("flag", "g it osier-switch", "g it osier-switch"), 'put "it" first'),
    "chock-shut-in": (_one("chock", "", "g it osier-switch"), "which goes back before it"),
    "derail-shut-in": (
        _one("derail", "g it osier-switch", "g it osier-switch"),
        "goes back before",
    ),
    "gate-shut-in": (_one("gate", "", "g it osier-switch"), 'put "it" first'),
    "gate-key-behind-itself": (
        _PLAIN + _thing("gate", "g", "osier", key="k") + _key("k", "g"),
        _FETCH,
    ),
    "gate-key-behind-itself-first": (
        HEAD
        + _switch("osier")
        + _spur("osier", "g osier-switch", "g osier-switch")
        + _thing("gate", "g", "osier", key="k")
        + _key("k", "g"),
        _FETCH,
    ),
    "switch-key-behind-a-later-gate": (
        HEAD
        + _switch("osier", "k")
        + _spur("osier")
        + _thing("gate", "g", "osier")
        + _key("k", "g"),
        'the key of "osier-switch", lies behind "g"',
    ),
    "shared-key-behind-its-gate": (
        HEAD
        + _switch("osier", "k")
        + _spur("osier")
        + _thing("gate", "g", "osier", key="k")
        + _key("k", "g"),
        'the key of "osier-switch", lies behind "g"',
    ),
    "second-gate-key-behind-it": (
        _PLAIN
        + _thing("gate", "g", "osier")
        + _thing("gate", "h", "osier", key="k")
        + _key("k", "h"),
        _FETCH,
    ),
    "first-gate-key-behind-the-second": (
        _PLAIN
        + _thing("gate", "g", "osier", key="k")
        + _thing("gate", "h", "osier")
        + _key("k", "h"),
        'lies behind "h", which comes off only after "g"',
    ),
    "two-spurs-wait": (_two("gb", "ga"), '"a" waits for "ka", the key of "a-switch" behind a gate'),
    "two-spurs-wait-other-names": (_two("gb", "ga").replace("ka", "kx"), "waits for"),
    "three-spurs-wait": (_ring_of_three(), '"c" waits for'),
    "gate-behind-itself": (
        _PLAIN + _thing("gate", "g", "osier", behind="g"),
        "can't lie behind itself",
    ),
    "gates-behind-each-other": (
        _PLAIN
        + _thing("gate", "g", "osier", behind="h")
        + _thing("gate", "h", "osier", behind="g"),
        "lie behind each other",
    ),
    "three-gates-in-a-ring": (
        _PLAIN
        + _thing("gate", "g", "osier", behind="h")
        + _thing("gate", "h", "osier", behind="i")
        + _thing("gate", "i", "osier", behind="g"),
        "lie behind each other",
    ),
}
"""By name: the text, and what the refusal must say."""

WORKABLE = {
    "flag-behind-an-earlier-gate": _one("flag", "g it osier-switch", "it g osier-switch"),
    "chock-behind-an-earlier-gate": _one("chock"),
    "one-key-in-the-open": _two("gb", ""),
}
"""The same with the remedy, which must be taken."""

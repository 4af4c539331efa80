"""Port expanders (MCP23017, MCP23S17) read in user space, as one more gpiozero pin factory.

``registers.py`` is the chips' register map, ``i2c.py`` and ``spi.py`` the two ways to it,
``chip.py`` what one chip is to be and how its lines stand, ``tending.py`` the talk with it,
``scanner.py`` the thread of a bus, ``pin.py`` and ``factory.py`` gpiozero's side, and
``choosing.py`` the factory that serves a whole layout.
"""

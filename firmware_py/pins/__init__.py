"""The pins room: the only place that touches gpiozero and the kernel's GPIO lines.

``board.py`` builds a layout's devices over one of two pin factories: ``mock.py`` for simulated
pins, ``chardev.py`` for the kernel's GPIO character device.
"""

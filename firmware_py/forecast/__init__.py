"""What an evening's jobs will take: a seeded simulation of crews that share spurs and a foreman.

Pure: no I/O, no clock, and no chance but the generator that is passed in. ``python -m
firmware_py.forecast`` answers one question, JSON in and JSON out, in a process of its own, since
numpy, scipy and simpy are too heavy for the engine's and the screen's.
"""

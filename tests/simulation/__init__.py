"""A deterministic simulator: real engine, core and logbook; time, threads, pins and disk are ours.

One thread, one virtual clock, and everything that happens from one seed. ``hub.py`` lets the
engine's and the logbook's own threads run as tasks that take turns, and kills them between any
two steps; ``invariants.py`` names what must hold.
"""

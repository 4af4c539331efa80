"""Commissioning: leads a builder through every wire and names what is wrong. No I/O, no clock."""

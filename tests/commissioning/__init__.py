"""Commissioning against wiring faults: a builder's hands, a faulty harness, simulated pins."""

"""How fast things go: passes of traps, throttle set-up, roll tests and brake tests."""

"""The crash harness: SIGKILL at random instants, under load, and what must hold afterwards."""

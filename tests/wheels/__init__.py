"""Whether a Pi can have every library as a wheel, so that nothing need be compiled there."""

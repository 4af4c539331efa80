"""The engine room: the shell around the core. One queue, one thread that owns the core."""

"""Many watchers at once: a crowd of open streams, and the screen that they watch."""

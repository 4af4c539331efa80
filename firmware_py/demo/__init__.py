"""The demo room: an invented layout, and scripted crews that work it on simulated pins."""

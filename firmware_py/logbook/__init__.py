"""The logbook room: the only thing that stands between the engine and the screen."""

"""The tape room: sessions as JSON Lines, read, replayed and written (rulebook section 10)."""

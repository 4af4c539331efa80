"""The club: boxes, a real broker, a real database and a board, all on this machine."""

"""The HTTP server: one loop for all connections, and a few threads for what may wait for a disk."""

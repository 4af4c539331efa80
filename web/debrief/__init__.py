"""After the work: what is still out, and what the session's log tells."""

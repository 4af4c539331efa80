"""The core: it is told readings, orders and the time, and answers with entries."""

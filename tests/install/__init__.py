"""Installing, renewing and removing in throw-away roots; `python -m tests.install` uses pip."""

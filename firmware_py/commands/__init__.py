"""The console script and its commands."""

"""The Pace page: its JSON, its child process, its commands and its looks."""

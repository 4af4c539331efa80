"""Attacks on a running screen: each is refused, and nothing has changed afterwards."""

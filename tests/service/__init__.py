"""Tests of supervision, and what tests elsewhere need to run the whole appliance."""

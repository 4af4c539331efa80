"""Spurlock's engine side: it reads contacts, decides, drives lamps and keeps the logbook."""

__version__ = "0.1.0"

"""Preparing an evening: jobs made and edited, their sheets, and the briefing."""

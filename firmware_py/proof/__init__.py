"""The proof room: every state that the shipped core can reach for a layout, looked at.

How it works, and why that is sound, stands in DEVELOPERS.md under "What a proof proves".
"""

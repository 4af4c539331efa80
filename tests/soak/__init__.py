"""The soak: the demo at a high pace for an hour, its memory, its queue and the size of its log."""

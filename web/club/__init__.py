"""Many boxes on one board: each box's log is followed, and all of them are drawn as one."""

"""The board host's side of a club: the logs of many boxes become one."""

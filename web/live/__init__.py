"""What stands now: the logbook followed, folded into one view, and given to every page."""

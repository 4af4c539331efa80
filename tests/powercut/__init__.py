"""Power cuts: what a logbook's files hold when writes that nobody synced are lost."""

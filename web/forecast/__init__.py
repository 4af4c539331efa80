"""Before the evening: whether its jobs fit, and what the pace dial costs in waiting."""

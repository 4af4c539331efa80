"""A slow, literal second reading of the rulebook, and random tapes to hold the first against."""

"""The doctor's room: what is well with an appliance, what is not, and what to do about it."""

"""A commissioning on a phone: the sitting that goes on, and the records of those before."""

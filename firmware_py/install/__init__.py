"""The install room: an appliance that starts by itself, can be renewed, and leaves no trace."""

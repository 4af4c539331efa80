"""The bench: what the builder looks at, wire by wire, and the host's hand at outputs."""

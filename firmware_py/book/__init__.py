"""The wiring book: drawings, wire list and parts list of a planned layout, made as text."""

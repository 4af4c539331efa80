"""A whole club on one machine, for trying: Debian's broker and database, boxes and a board."""

"""The logbook's migrations, oldest first; 'upgrading' runs them."""

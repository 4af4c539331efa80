"""The arithmetic of moving models against the tables, an ODE solver, units and random motors."""

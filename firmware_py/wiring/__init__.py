"""From a layout to its wires: which pin each one gets, and whether the currents are right."""

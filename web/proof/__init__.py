"""What a host can read of the proof: its properties, and every rule from its source to its tests."""

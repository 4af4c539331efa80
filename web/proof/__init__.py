"""What a host can read of the proof: its properties, and what stands behind each rule."""

"""The arithmetic of moving models: scale speed, momentum, rolling, air. No I/O."""

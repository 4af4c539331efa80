"""What runs inside the test machine."""

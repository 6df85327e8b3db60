"""What one thing draws, and the whole load."""

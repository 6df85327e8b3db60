"""What each thing draws, and the whole load."""

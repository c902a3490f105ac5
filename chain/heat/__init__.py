"""What the stages get and where they end: conduction, loads, steady state."""

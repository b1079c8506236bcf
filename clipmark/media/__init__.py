"""Film in, exact frames and sound out. Imports the ground only."""

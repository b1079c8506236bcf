"""From a film file to what the book keeps of it, and the invented session that comes with clipmark."""

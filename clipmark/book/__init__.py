"""What the keeper decided, in one SQLite file. Imports ground, media and motion; never reading, report, window."""

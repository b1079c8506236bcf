"""The sound of a film: as numbers on its time, as a stream to be heard, and held against another recording."""

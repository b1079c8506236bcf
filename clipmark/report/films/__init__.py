"""What is computed from a session's films for showing, and kept in the cache folder."""

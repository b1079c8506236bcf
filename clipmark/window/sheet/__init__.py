"""The Sheet page: the timeline and the reading."""

"""The pictures of a film: exactly the frame that was asked for, in colour or small and grey."""

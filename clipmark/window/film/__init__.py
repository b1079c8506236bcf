"""The Film page: step, mark, outline, run the motion pass."""

"""The draft: acts proposed from what moves, what beats and what the motion pass found. A proposal is no mark."""

"""Statistics on plain numbers: shares, agreement, waiting times. Nothing here knows a book."""

"""Pages on paper: what runs in a process of its own to make a PDF."""

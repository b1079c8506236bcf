"""Arrays in, numbers out: follows the abdomen and proposes pulls. No files, no Qt; film comes in by a protocol."""

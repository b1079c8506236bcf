"""What many sessions say together: a female's cycles, what came of them, how good the flags were."""

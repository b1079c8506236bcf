"""Which frames a film has and when each is shown, without decoding them."""

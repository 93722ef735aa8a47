"""Papers, print tones, print plan, colour response and matched brackets."""

"""One stock developed for several times: contrast and speed between them, temperature."""

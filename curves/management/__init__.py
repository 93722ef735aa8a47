"""Commands for scripts and the shell."""

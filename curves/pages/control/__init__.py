"""Can we trust it: standards, tablets, instruments, process runs and the house reference."""

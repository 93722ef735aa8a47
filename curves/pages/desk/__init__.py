"""Where people arrive and look things up: front desk, bench, the lab's hub, and the pages of reference."""

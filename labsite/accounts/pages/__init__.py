"""Pages of the accounts app: parse, one service or query, render."""

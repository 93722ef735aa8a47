"""The scans pages: parse, one service or query call, render."""

"""Check characters, GS1 numbers, symbols, and what a scanner sent. No database, no Django."""

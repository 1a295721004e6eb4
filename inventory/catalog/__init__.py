"""What we buy, make and use, and who sells it."""

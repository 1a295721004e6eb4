"""The formats of the one language that the screens speak."""

"""What we ordered from suppliers, and what came."""

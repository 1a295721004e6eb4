"""The whole shop in one file, and back: database, uploads, and a list of what they should be."""

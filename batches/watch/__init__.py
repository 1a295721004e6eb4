"""Watching what checks and complaints find: a rise opens an alert by itself."""

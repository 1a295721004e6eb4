"""The writes of this room: each is one event, whole or not at all."""

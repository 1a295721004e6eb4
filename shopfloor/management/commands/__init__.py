"""One module a verb of `manage.py`."""

"""ISO 8601 order: the day reads the same to everyone, and columns sort as text."""

DATE_FORMAT = SHORT_DATE_FORMAT = "Y-m-d"
TIME_FORMAT = "H:i"
DATETIME_FORMAT = SHORT_DATETIME_FORMAT = "Y-m-d H:i"

"""What to count when: classes by value used, a calendar of counts, how right the records were."""

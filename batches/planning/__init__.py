"""Requirements, buildable, how many to start, and the reorder list with the bills' demand."""

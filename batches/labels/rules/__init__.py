"""Label stock in printer dots, and what each paper says. No Django, no drawing."""

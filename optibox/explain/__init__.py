"""Why nothing fits, what nearly does, and what each requirement costs."""

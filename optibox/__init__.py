"""Plan, check and run a small archive server at the least cost that works."""

"""Getting from the drives that hold data to a build, copy by copy."""

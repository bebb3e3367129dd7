"""Running a machine well: spin-down policies, the worth of a watt, the next change."""

"""A second formulation of the whole question, and what it proves about an answer."""

"""Checkrides: a folder of submissions graded by one standard, in a table that can be defended and disagreed with."""

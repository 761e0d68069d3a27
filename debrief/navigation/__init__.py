"""Pure formulas of navigation, on floats and arrays: no track, no procedure, no file, no clock."""

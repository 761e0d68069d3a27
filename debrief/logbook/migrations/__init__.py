"""The steps from an empty database to the newest schema, and where they find it."""

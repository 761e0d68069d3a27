"""Which sample belongs to which phase of which approach."""

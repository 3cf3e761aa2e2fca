"""A recorded stream, played again."""

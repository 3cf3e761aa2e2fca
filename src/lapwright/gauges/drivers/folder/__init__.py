"""Files that an instrument writes into a folder."""

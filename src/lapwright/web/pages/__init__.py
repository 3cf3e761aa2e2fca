"""One module per page: asks `app`, arranges what it says, shows it. Nothing is computed here."""

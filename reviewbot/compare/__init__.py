"""Two measured versions in, the few causes that explain the difference out."""

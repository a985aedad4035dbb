"""A Model in, records of figures out."""

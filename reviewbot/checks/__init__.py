"""Rules: measures, changes and settings in, findings out. One rule a file."""

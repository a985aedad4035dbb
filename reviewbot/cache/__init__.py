"""Reviews kept by content, so that nothing is looked at twice: keys, the form, and the disk."""

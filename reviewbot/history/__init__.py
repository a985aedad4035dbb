"""Git and large-file pointers: a commit range in, changed files with their bytes out."""

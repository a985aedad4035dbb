"""One command of the command line a module; each imports what it needs when it runs."""

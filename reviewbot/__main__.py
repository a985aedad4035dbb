"""`python -m reviewbot`."""

from reviewbot.cli import main

if __name__ == "__main__":
    main()

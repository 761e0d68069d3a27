"""``python -m debrief``: the command line where the command itself is not on the path."""

from debrief.cli import main

if __name__ == "__main__":
    main()

"""``python -m fibrebook`` is the command line."""

from fibrebook.cli import main

if __name__ == "__main__":
    main()

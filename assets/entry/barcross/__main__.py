"""`python -m barcross` is the command."""

from barcross import main

if __name__ == "__main__":
    main()

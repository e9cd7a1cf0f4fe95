"""`python -m fieldvoice` is the `fieldvoice` command."""

from fieldvoice.cli import main

if __name__ == "__main__":
    main()

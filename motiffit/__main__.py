"""``python -m motiffit`` is the command line."""

from motiffit.cli.app import main

if __name__ == "__main__":
    main()

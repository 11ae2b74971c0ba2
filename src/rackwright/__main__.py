"""`python -m rackwright`: the same as the `rackwright` command."""

from rackwright.cli import main

if __name__ == "__main__":
    main()

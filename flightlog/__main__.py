"""`python -m flightlog`: the command line."""

from flightlog.commands.main import main

if __name__ == "__main__":
    main()

"""`python -m station`."""

from station.commands.app import app

if __name__ == "__main__":
    app(prog_name="python -m station")

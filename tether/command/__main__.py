"""Run the command line as ``python -m tether.command``."""

from tether.command import main

main()

"""Run the command line as ``python -m tether``."""

from tether.command import main

main()

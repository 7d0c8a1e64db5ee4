"""How exact and how fast the program is: `python -m tests.benchmark --help`."""

"""`python -m aiming`: the same as the `aiming` command."""

from .cli import main

main()

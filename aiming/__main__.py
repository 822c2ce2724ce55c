"""`python -m aiming`: the same as the `aiming` command."""

import signal


def main() -> None:
    """The command; Ctrl-C while everything is being loaded ends it as quietly as later on."""
    before = signal.signal(signal.SIGINT, signal.SIG_DFL)
    from .cli.main import main as command

    signal.signal(signal.SIGINT, before)
    command()


if __name__ == "__main__":
    main()

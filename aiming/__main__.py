"""`python -m aiming`: the same as the `aiming` command."""

import gc
import signal


def main() -> None:
    """The command; Ctrl-C while everything is being loaded ends it as quietly as later on."""
    before = signal.signal(signal.SIGINT, signal.SIG_DFL)
    # While modules load nothing is thrown away: sweeps for reference cycles would find nothing.
    gc.set_threshold(200_000, 20, 20)
    from .cli.main import main as command

    signal.signal(signal.SIGINT, before)
    command()


if __name__ == "__main__":
    main()

"""The worst case within a tolerance needs a tolerance."""

from collections.abc import Iterator

from .raw import Problem, Raw, table_in

ALLOWED = 'a tolerance with it, as { tilt = 1.0, height = "0.1 m", x = "0.1 m" }'


def tolerance_rules(raw: Raw) -> Iterator[Problem]:
    """objective_at = "worst" goes with a tolerance that leaves something uncertain."""
    aim = table_in(raw.document, "aim")
    if aim.get("objective_at") != "worst":
        return
    given = aim.get("tolerance")
    if given is None:
        yield ("aim", "objective_at"), f'"worst" without a tolerance; {ALLOWED}'
    elif isinstance(given, dict) and all(raw.length(size) == 0.0 for size in given.values()):
        yield ("aim", "tolerance"), f'a tolerance of nothing for "worst"; {ALLOWED}'

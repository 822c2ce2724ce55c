"""What breaks a table of cells as a table."""

from collections.abc import Callable
from random import Random

from .case import Case, Options
from .texts import WORDS, broken_bytes, broken_text, encoded, number_text

Grid = list[list[str]]


def _cell(grid: Grid, chance: Random) -> None:
    row = chance.choice(grid)
    at = chance.randrange(len(row))
    try:
        before = float(row[at])
    except ValueError:
        row[at] = chance.choice((number_text(chance), chance.choice(WORDS), row[at].upper()))
    else:
        row[at] = number_text(chance, before) if chance.random() < 0.85 else chance.choice(WORDS)


def _column(grid: Grid, chance: Random) -> None:
    width = max(len(row) for row in grid)
    a, b, what = chance.randrange(width), chance.randrange(width), chance.randrange(4)
    many = chance.choice((1, 1, 3, 50))
    for row in grid:
        if a >= len(row) or b >= len(row):
            continue
        if what == 0 and len(row) > 1:
            del row[a]
        elif what == 1:
            row[b:b] = [row[a]] * many
        elif what == 2:
            row[a], row[b] = row[b], row[a]
        else:
            row[a] = number_text(chance) if many == 3 else ""


def _rows(grid: Grid, chance: Random) -> None:
    a, b = chance.randrange(len(grid)), chance.randrange(len(grid))
    what = chance.randrange(7)
    if what == 0 and len(grid) > 1:
        del grid[a]
    elif what == 1:
        grid.insert(b, list(grid[a]))
    elif what == 2:
        grid[a], grid[b] = grid[b], grid[a]
    elif what == 3:
        grid.reverse()
    elif what == 4:
        grid[a:a] = [list(grid[a]) for _ in range(chance.choice((3, 30, 400)))]
    elif what == 5:
        grid[1:] = chance.sample(grid[1:], len(grid) - 1)
    else:
        del grid[chance.randrange(1, len(grid) + 1) :]


def _ragged(grid: Grid, chance: Random) -> None:
    row = chance.choice(grid)
    if chance.random() < 0.5:
        row.append(chance.choice(("", "1", *WORDS)))
    elif len(row) > 1:
        row.pop()


def _name(grid: Grid, chance: Random) -> None:
    head = next((row for row in grid if not row[0].startswith("#")), grid[0])
    at = chance.randrange(len(head))
    head[at] = chance.choice(
        (head[at].upper(), f'"{head[at]}"', f" {head[at]} ", head[at] + "_ft", head[at] + " (cm)",
         head[0], head[-1], number_text(chance), chance.choice(WORDS))
    )  # fmt: skip


def _scaled(grid: Grid, chance: Random) -> None:
    """One column times a number: wrong units, another reference."""
    at = chance.randrange(max(len(row) for row in grid))
    scale = chance.choice((0.0, -1.0, 1e-3, 1e3, 0.5, 1e6, 1e-9, 1.0))
    shift = chance.choice((0.0, 0.0, 180.0, -90.0, 1e4))
    for row in grid[1:]:
        try:
            row[at] = repr(round(float(row[at]) * scale + shift, 9))
        except (ValueError, IndexError):
            continue


_CHANGES: tuple[Callable[[Grid, Random], None], ...] = (
    _cell, _cell, _cell, _cell, _column, _column, _rows, _rows, _rows, _ragged, _name, _scaled,
)  # fmt: skip


def broken_table(text: str, chance: Random) -> str:
    """A table after one to four changes, its cells parted as before or otherwise."""
    grid = [line.split(",") for line in text.rstrip("\n").split("\n")]
    for _ in range(chance.choice((1, 1, 1, 1, 1, 2, 2, 3, 4))):
        chance.choice(_CHANGES)(grid, chance)
    separator = chance.choice((*"," * 9, ";", "\t", chance.choice(" |")))
    broken = "\n".join(separator.join(row) for row in grid) + "\n"
    return broken.replace(".", ",") if separator == ";" and chance.random() < 0.5 else broken


def table_case(text: str, options: Options, chance: Random) -> Case:
    """A case out of one good table."""
    way = chance.random()
    if way < 0.7:
        return Case(encoded(broken_table(text, chance), chance), options)
    if way < 0.92:
        return Case(encoded(broken_text(text, chance), chance), options)
    return Case(broken_bytes(text.encode(), chance), options)

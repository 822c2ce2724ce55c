"""The summary on a terminal: at most 40 lines of 80 columns, the answer first."""

from dataclasses import dataclass
from textwrap import shorten

from ...analysis.section_map import coverage_edges, curves
from ...base.bands import band_label
from ...base.units import length_text, tilt_text
from ...results.answer import Answer, SpeakerAnswer
from ...results.explanation import SpeakerExplanation
from .cautions import caution_lines
from .groups import adds_sentence, fill_sentence, pair_sentence
from .levels import level_lines
from .section import section_lines
from .sentences import (
    Sentence,
    aim_sentence,
    beyond_sentence,
    explained,
    flip_sentence,
    heard_sentence,
    held_sentence,
    lands_sentence,
    level_sentence,
    points_sentence,
    proof_sentence,
    shortcut_sentence,
    sight_sentence,
    tolerance_sentence,
    tone_sentence,
    uneven_texts,
    window_sentence,
)
from .terminal import INDENT, WIDTH, Terminal, labelled, printable
from .words import db_text, throw_m

MOST_LINES = 40
_BEFORE = 5
"""Blocks of a lower rank than this are not given up for a larger picture."""
_LEAST_PICTURE, _MOST_PICTURE = 6, 10


@dataclass(frozen=True)
class Block:
    """Lines that stay together; rank: which go first when there are too many, the highest."""

    lines: list[str]
    rank: int


def summary_text(
    answer: Answer,
    *,
    terminal: Terminal | None = None,
) -> str:
    """The summary, ending in a line break."""
    shown = terminal or Terminal()
    title = shorten(printable(answer.scenario.title), WIDTH - 1, placeholder=" …")
    blocks = [Block([shown.bold(title)], 0)]
    if len(answer.speakers) == 1:
        blocks += _one(answer, answer.speakers[0], shown)
    else:
        blocks += _several(answer, shown)
    answered = max(place for place, block in enumerate(blocks) if block.rank == 0)
    blocks.insert(answered + 1, Block(caution_lines(answer, terminal=shown), 0))
    along, edges = curves(answer), coverage_edges(answer)
    blocks.append(Block(level_lines(answer, along, terminal=shown), 3))
    room = MOST_LINES - 1 - sum(len(block.lines) for block in blocks if block.rank < _BEFORE)
    room = max(_LEAST_PICTURE, min(_MOST_PICTURE, room))
    picture = section_lines(answer, along, edges, terminal=shown, most_lines=room)
    blocks.append(Block(picture, 3))
    lines = [line for block in _fitting(blocks) for line in block.lines]
    return shown.shown("\n".join(lines) + "\n")


def short_text(answer: Answer) -> str:
    """One line for each loudspeaker: the aim and nothing else."""
    lines = [
        f"{printable(one.name)}: {tilt_text(one.tilt_deg)}, {one.orientation}, height "
        f"{length_text(one.height_m, answer.scenario.units)}, spread {db_text(one.spread_db)}"
        for one in answer.speakers
    ]
    return "\n".join(lines) + "\n"


def _fitting(blocks: list[Block]) -> list[Block]:
    """Without the blocks of highest rank, as many as it takes."""
    kept = list(blocks)
    while sum(len(block.lines) for block in kept) > MOST_LINES:
        last = max(kept, key=lambda block: block.rank)
        if last.rank == 0:
            break
        kept.remove(last)
    return kept


def _one(
    answer: Answer,
    one: SpeakerAnswer,
    terminal: Terminal,
) -> list[Block]:
    scenario = answer.scenario
    told = answer.explanation.speakers[0] if answer.explanation else None
    ranked: list[tuple[int, Sentence | None]] = [
        (0, aim_sentence(answer, one)),
        (0, held_sentence(told)),
        (0, beyond_sentence(told)),
        (0, heard_sentence(answer, one)),
        (1, shortcut_sentence(one, told)),
        (1, window_sentence(scenario, one)),
        (1, tolerance_sentence(scenario, one)),
        (2, proof_sentence(scenario, one)),
        (2, level_sentence(answer, one)),
        (2, flip_sentence(told)),
        (2, tone_sentence(answer, one)),
        (2, points_sentence(answer, one)),
        (2, sight_sentence(answer, one)),
        (4, lands_sentence(one)),
    ]
    more = explained(scenario, one, told) if told else []
    ranked += [(3 + place, sentence) for place, sentence in enumerate(more)]
    return [_block(rank, of, terminal) for rank, of in ranked if of is not None]


def _block(rank: int, sentence: Sentence, terminal: Terminal, *, indent: int = INDENT) -> Block:
    label, text = sentence
    lines = labelled(terminal.plain(label), terminal.plain(text), indent=indent)
    return Block([terminal.bold(line) for line in lines] if rank == 0 else lines, rank)


def _several(
    answer: Answer,
    terminal: Terminal,
) -> list[Block]:
    blocks = [Block(_table(answer, terminal), 0)]
    if answer.together is not None:
        by_band = ", ".join(
            f"{band_label(band)} {db_text(of.spread_db).removesuffix(' dB')}"
            for band, of in answer.together.by_band.items()
        )
        text = f"spread {db_text(answer.together.spread_db)} over all rows ({by_band} dB)."
        blocks.append(_block(1, ("together", text), terminal))
    for place, one in enumerate(answer.speakers):
        told = answer.explanation.speakers[place] if answer.explanation else None
        blocks += _about(answer, one, told, terminal)
    return blocks


def _about(
    answer: Answer,
    one: SpeakerAnswer,
    told: SpeakerExplanation | None,
    terminal: Terminal,
) -> list[Block]:
    """The few sentences of one of several loudspeakers, under its own name."""
    scenario = answer.scenario
    uneven = " ".join(uneven_texts(answer, one))
    paired = one.pair is not None or one.hung_under is not None
    chosen: list[tuple[int, Sentence | None]] = [
        (1, fill_sentence(answer, one)),
        (1, pair_sentence(one)),
        (2 if one.match or one.hung_under else 6, adds_sentence(one, answer)),
        (2, ("", uneven) if uneven and not paired else None),
        (4, held_sentence(told)),
        (5, window_sentence(scenario, one)),
        (5, tolerance_sentence(scenario, one)),
        (6, shortcut_sentence(one, told)),
        (7, proof_sentence(scenario, one)),
        (5, flip_sentence(told)),
        (5, level_sentence(answer, one)),
        (6, tone_sentence(answer, one)),
        (5, points_sentence(answer, one)),
        (6, sight_sentence(answer, one)),
        (8, lands_sentence(one)),
    ]
    return [
        _block(rank, (one.name, text), terminal, indent=16)
        for rank, (_, text) in ((rank, of) for rank, of in chosen if of is not None)
    ]


def _table(answer: Answer, terminal: Terminal) -> list[str]:
    scenario = answer.scenario
    unit = scenario.units
    head = f"{'':<14} {'tilt':<16} {'height':>14} {'throw':>15} {'spread':>8} {'±3 dB':>6}"
    lines = [f"Above {shorten(printable(scenario.datum), WIDTH - 8, placeholder=' …')}:", head]
    for one in answer.speakers:
        throw = throw_m(one)
        away = "none" if throw is None else length_text(throw, unit)
        within = one.rows_within_3db_percent
        share = "?" if within is None else f"{within:.0f} %"
        lines.append(
            terminal.bold(
                f"{printable(one.name)[:14]:<14} {tilt_text(one.tilt_deg):<16} "
                f"{length_text(one.height_m, unit):>14} {away:>15} "
                f"{db_text(one.spread_db):>8} {share:>6}"
            )
        )
    return lines

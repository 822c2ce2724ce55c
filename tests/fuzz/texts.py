"""What breaks any text and any bytes."""

import re
from collections.abc import Callable
from random import Random

NUMBERS = (
    "nan", "inf", "-inf", "0", "-0", "-0.0", "1", "-1", "2", "0.5", "1e308", "-1e308", "1.8e308",
    "1e999", "1e-320", "5e-324", "1e-12", "1e6", "1e9", "-1e9", "99999.9", "100000", "100001",
    "2147483648", "9223372036854775808", "1" + "0" * 40, "1" + "0" * 5000, "0x10", "1_000", "1,5",
    "1.5.2", "+7", "1e", ".5", "5.", "٣", "90", "-90", "90.0000001", "180", "360", "1e5", "-180",
)  # fmt: skip
"""As a file may have them in the place of a number."""
WORDS = (
    "", " ", "\t", "a", "x" * 300, "y" * 70_000, "ä", "日本", "🎚", "\u202e", "\u00a0", "e\u0301",
    "\u2028", "\x85", "\x0b", "\x1b[31m", "\x07", "\\", '"', "'", "#", ";", ",", "=", "[", "]", "{",
    "}", "%s", "{0}", "null", "None", "true", "12 ft 6 in", "1e999 m", "nan m", "-0 mm", "..", "/",
    "NaN", "1 m", "7'6\"", "\ufeff", "−5",
)  # fmt: skip
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?")


def number_text(chance: Random, before: float | None = None) -> str:
    """A number, often near the one before: what stays plausible gets farther."""
    if before is not None and chance.random() < 0.6:
        scale = chance.choice((-1.0, 0.0, 0.5, 0.99, 1.0001, 1.1, 2.0, 10.0, 1e-3, 1e3, 1e-6))
        return repr(round(before * scale + chance.choice((0.0, 0.0, 0.1, -1.0)), 9))
    return chance.choice(NUMBERS)


def _other_number(text: str, chance: Random) -> str:
    found = list(_NUMBER.finditer(text))
    if not found:
        return text
    one = chance.choice(found)
    number = number_text(chance, float(one[0]) if len(one[0]) < 40 else None)
    return text[: one.start()] + number + text[one.end() :]


def _word_in(text: str, chance: Random) -> str:
    at = chance.randint(0, len(text))
    return text[:at] + chance.choice(WORDS) + text[at:]


def _without_part(text: str, chance: Random) -> str:
    at = chance.randint(0, len(text))
    return text[:at] + text[at + chance.choice((1, 1, 2, 5, 40, 400)) :]


def _part_again(text: str, chance: Random) -> str:
    at = chance.randint(0, len(text))
    part = text[at : at + chance.choice((1, 2, 5, 40, 400))]
    return text[:at] + part * chance.choice((2, 2, 3, 50)) + text[at + len(part) :]


def _cut_off(text: str, chance: Random) -> str:
    return text[: chance.randint(0, len(text))]


def _other_line_ends(text: str, chance: Random) -> str:
    return text.replace("\n", chance.choice(("\r\n", "\r", "\n\n", "\n\r", "\u2028", "\x0b", "")))


def _other_mark(text: str, chance: Random) -> str:
    marks = ",;\t .=\"'[]{}#-:"
    return text.replace(chance.choice(marks), chance.choice(marks), chance.choice((1, 1, 3, -1)))


def _other_lines(text: str, chance: Random) -> str:
    lines = text.split("\n")
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    what = chance.randrange(7)
    if what == 0:
        del lines[a]
    elif what == 1:
        lines.insert(b, lines[a])
    elif what == 2:
        lines[a], lines[b] = lines[b], lines[a]
    elif what == 3:
        del lines[min(a, b) : max(a, b)]
    elif what == 4:
        lines[a:a] = [lines[a]] * chance.choice((2, 10, 300))
    elif what == 5:
        chance.shuffle(lines)
    else:
        lines[a] = chance.choice(WORDS)
    return "\n".join(lines)


_TEXT: tuple[Callable[[str, Random], str], ...] = (
    _other_number, _other_number, _other_number, _other_lines, _other_lines, _word_in,
    _without_part, _part_again, _cut_off, _other_line_ends, _other_mark,
)  # fmt: skip


def broken_text(text: str, chance: Random) -> str:
    """The text after one to four changes."""
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 4))):
        text = chance.choice(_TEXT)(text, chance)
    return text


def broken_bytes(data: bytes, chance: Random) -> bytes:
    """The bytes after one to eight changes."""
    found = bytearray(data)
    for _ in range(chance.choice((1, 1, 2, 4, 8))):
        at = chance.randint(0, max(0, len(found) - 1))
        what = chance.randrange(7)
        if what == 0 and found:
            found[at] ^= 1 << chance.randrange(8)
        elif what == 1 and found:
            found[at] = chance.choice((0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256)))
        elif what == 2:
            del found[at : at + chance.choice((1, 4, 64, 1000))]
        elif what == 3:
            found[at:at] = found[at : at + chance.choice((1, 8, 200))]
        elif what == 4:
            found[at:at] = chance.randbytes(chance.choice((1, 4, 16)))
        elif what == 5 and chance.random() < 0.3:
            del found[at:]
        else:
            # A length or an offset, where there is one: four or eight bytes, small or huge.
            size = chance.choice((2, 4, 8))
            value = chance.choice((0, 1, 0x7FFFFFFF, 0xFFFFFFFF, 2**63 - 1, 2**64 - 1, len(found)))
            found[at : at + size] = (value % 256**size).to_bytes(size, "little")
    return bytes(found)


def encoded(text: str, chance: Random) -> bytes:
    """The text as bytes: in UTF-8 nearly always."""
    way = chance.random()
    if way < 0.02:
        return text.encode("utf-16")
    if way < 0.04:
        return text.encode("utf-8-sig")
    if way < 0.06:
        return text.encode("latin-1", "replace")
    return text.encode("utf-8", "surrogatepass")

"""What the benchmarks are to come to, and where in what they print it stands."""

import re
from dataclasses import dataclass


@dataclass(frozen=True)
class Goal:
    """The worst of what `pattern` finds in what `script` prints is held against `limit`.

    pattern: its groups are numbers; two of them are divided, the first by the second
    limit: None where no goal was set
    """

    what: str
    script: str
    pattern: str
    limit: float | None
    unit: str
    at_least: bool = False

    def worst(self, told: dict[str, str]) -> float | None:
        found = re.findall(self.pattern, told[self.script], re.MULTILINE)
        if not found:
            return None
        rows = [one if isinstance(one, tuple) else (one,) for one in found]
        numbers = [[float(text.replace(",", "")) for text in row] for row in rows]
        values = [row[0] / row[1] if len(row) > 1 else row[0] for row in numbers]
        return min(values) if self.at_least else max(values)

    def met(self, told: dict[str, str]) -> bool:
        worst = self.worst(told)
        if worst is None or self.limit is None:
            return worst is not None
        return worst >= self.limit if self.at_least else worst <= self.limit

    def row(self, told: dict[str, str]) -> str:
        worst = self.worst(told)
        unit = f" {self.unit}" if self.unit else ""
        measured = "not found" if worst is None else f"{worst:,.4g}{unit}"
        if worst is not None and worst >= 1e4:
            measured = f"{worst:,.0f}{unit}"
        if self.limit is None:
            return f"| {self.what} | none set | {measured} | |"
        sign = "at least" if self.at_least else "at most"
        end = "met" if self.met(told) else "missed"
        return f"| {self.what} | {sign} {self.limit:,.10g}{unit} | {measured} | {end} |"


SOLVER, START, SWEEP = "bench_solver.py", "bench_start.py", "bench_what_if.py"
SITE = "bench_onsite.py"
LIVE = "bench_live.py"
CHOICES, TOGETHER = "bench_choices.py", "bench_together.py"
GROWTH = r"([\d.]+) times for ((?!1 )\d+) times$"
GOALS = (
    Goal("typical scene, tilt, height, x and orientation, proven to 0.05 dB", SOLVER,
         r"proven to 0\.05 dB: ([\d.]+) ms", 20, "ms"),
    Goal("the same proven to 0.01 dB", SOLVER, r"proven to 0\.01 dB: ([\d.]+) ms", 30, "ms"),
    Goal("worst of the 150 scenes, either gap", SOLVER, r"^150 scenes.* worst (\d+) ms", 250, "ms"),
    Goal("times faster than differential evolution, scipy's defaults", SOLVER,
         r"proven.* (\d+) and \d+ times faster", 20, "", at_least=True),
    Goal("`aiming.solve` of it for the worst band, with every figure of the answer", SOLVER,
         r"^whole answer.*: ([\d.]+) ms", 25, "ms"),
    Goal("the same, times faster than differential evolution", SOLVER,
         r"^whole answer.* ([\d.]+) and [\d.]+ times as fast", 20, "", at_least=True),
    Goal("growth over growth in rows, 60 to 6,000", SOLVER, rf"^ *\d+ rows: .* {GROWTH}", 1, ""),
    Goal("growth over growth in bands, 1 to 24, worst band", "bench_growth.py",
         rf"^worst band.* {GROWTH}", None, ""),
    Goal("growth over growth in loudspeakers, 1 to 8", "bench_growth.py", rf"^solve.* {GROWTH}",
         None, ""),
    Goal("growth over growth in candidates, 16,000 to 16,000,000", "bench_growth.py",
         rf"^sweep.* {GROWTH}", None, ""),
    Goal("memory of a whole solve over numpy's own", SOLVER,
         r"import numpy \d+ MB, .*?, (\d+) MB more", 100, "MB"),
    Goal("`aiming solve FILE --json` over `import numpy`", START,
         r"solve --json +\d+ ms +([\d.]+) x", 3, "times"),
    Goal("`aiming solve FILE --out FOLDER` over an empty figure", "bench_documents.py",
         r"--out +[\d.]+ s +([\d.]+) x", 4, "times"),
    Goal("`aiming --help` over `import numpy`", START, r"--help +\d+ ms +([\d.]+) x", 2, "times"),
    Goal("solve with a table of 361 × 24 over one with a nominal lobe", "bench_patterns_solve.py",
         r"ms: ([\d.]+) times", 2, "times"),
    Goal("reading a CSV of 361 × 24", "bench_pattern_files.py", r"^CSV.*: ([\d.]+) ms", 5, "ms"),
    Goal("reading an AES69 file of 2,664 × 23", "bench_pattern_files.py",
         r"2,664.*: ([\d.]+) ms", 50, "ms"),
    Goal("memory for an AES69 file of 65,000 × 200", "bench_pattern_files.py",
         r"peak (\d+) MB", 1000, "MB"),
    Goal("four loudspeakers, 240 rows, 8 bands, shadows", "bench_loudspeakers.py",
         r"^solve: (\d+) ms", 500, "ms"),
    Goal("a drawing of 50,000 entities", "bench_drawing.py", r"points: ([\d.]+) s", 5, "s"),
    Goal("sweep of 60 rows × 24 bands", SWEEP, r"^sweep, .* ([\d,]+) candidates/s", 2e6,
         "candidates/s", at_least=True),
    Goal("sweep over a plain numpy script on one core", SWEEP, r"^sweep / plain numpy +([\d.]+)",
         12, "times", at_least=True),
    Goal("bare pass over the numbers, over the sweep, one core", SWEEP,
         r"^bare pass / kernel +([\d.]+)", 2, "times"),
    Goal("memory of a sweep of 100,000,000", "bench_what_if_memory.py",
         r"peak (\d+) MB", 500, "MB"),
    Goal("on site: conditions of 30 whose 90 % intervals of tilt hold 85 to 95 %", SITE,
         r"85 to 95 % in (\d+) of", 27, "", at_least=True),
    Goal("on site: the same at the worst condition", SITE, r"^tilt: .*least (\d+) %", 80, "%",
         at_least=True),
    Goal("on site: rows within their 90 % interval, all conditions", SITE,
         r"^rows: all together (\d+) %", 90, "%", at_least=True),
    Goal("on site: half of that interval, mean of rows and conditions", SITE,
         r"half of the interval ([\d.]+) dB", 0.9, "dB"),
    Goal("on site: moves of a box hung as planned", SITE,
         r"^planned: .* ([\d.]+) % with an incl", 2, "%"),
    Goal("on site: moves that make it worse, wrong patterns", SITE,
         r"wrong patterns: .* ([\d.]+) % worse", 2, "%"),
    Goal("on site: moves that make it worse, one blunder", SITE,
         r"one blunder: .* ([\d.]+) % worse", 5, "%"),
    Goal("on site: lost signs named", SITE, r"^signs: .* named ([\d.]+) %", 98, "%", at_least=True),
    Goal("on site: good readings called slips", SITE, r"called a slip: ([\d.]+) %", 3, "%"),
    Goal("on site: half of the interval of coverage by the trial on the ground", SITE,
         r"^ground: .* half of the interval ([\d.]+) %", 10, "%"),
    Goal("on site: an estimate with its decision", SITE, r"^(\d+) ms an estimate", 100, "ms"),
    Goal("live: mouse to proven picture, one loudspeaker, median", LIVE,
         r"all: median (\d+) ms", 50, "ms"),
    Goal("the same, 95th percentile", LIVE, r"all: .* 95 % (\d+) ms", 80, "ms"),
    Goal("live: three together in the hand, median", LIVE,
         r" 3 loudspeakers box +(\d+) /", 120, "ms"),
    Goal("live: three together, let go until the joint answer", LIVE,
         r"joint answer: ([\d.]+) s", 2, "s"),
    Goal("live: frames a second while dragging", LIVE, r"at least (\d+) a second", 55, "",
         at_least=True),
    Goal("live: from the command to a usable page", LIVE, r"usable page: ([\d.]+) s", 1.5, "s"),
    Goal("live: blank sheet to hang sheet at a person's pace", LIVE,
         r"hang sheet: (\d+) s", 180, "s"),
    Goal("live: attacks accepted or crashing, of 10,000", LIVE,
         r"(\d+) (?:accepted|crashes)", 0, ""),
    Goal("houses whose much better decision the first screen does not show, of 200", CHOICES,
         r"(\d+) with a much better decision", 0, ""),
    Goal("choices of one loudspeaker, median", CHOICES, r"choices: median ([\d.]+) s", 0.25, "s"),
    Goal("together: worse than a long search over everything", TOGETHER,
         r"^worst, .*: (-?[\d.]+) dB", 0.1, "dB"),
    Goal("together: share of scenes of three whose whole gap is within 0.1 dB in 8 s", TOGETHER,
         r"^3 loudspeakers: .* in (\d+) of (\d+)", 0.7, "", at_least=True),
    Goal("together: memory, the long search with it", TOGETHER,
         r"^memory .*: (\d+) MB", 300, "MB"),
    Goal("proven worst case within a tolerance over the plain solve", "bench_tolerance.py",
         r"^largest ratio ([\d.]+)", 10, "times"),
)  # fmt: skip

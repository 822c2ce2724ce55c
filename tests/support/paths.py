"""Where the project and its tests stand, wherever a test file lies."""

from pathlib import Path

TESTS = Path(__file__).resolve().parents[1]
ROOT = TESTS.parent

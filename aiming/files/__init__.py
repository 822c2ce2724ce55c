"""Measured patterns from files: CSV tables of angle and frequency, and AES69 (SOFA)."""

from .pattern_file import read_pattern
from .pattern_result import Doubt, PatternFile, Resolution

__all__ = ["Doubt", "PatternFile", "Resolution", "read_pattern"]

"""The version, said here so that no command looks it up among all installed packages.

tests/house/test_version.py holds it to pyproject.toml.
"""

VERSION = "0.2.0"

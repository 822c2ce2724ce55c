"""Broken files by the thousand: each is read as a command would, and must be read or refused."""

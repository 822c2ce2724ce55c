"""The answer as typed values, each field described where it is declared."""

"""The section under the hand: one person's browser, one house, and the proven best that follows."""

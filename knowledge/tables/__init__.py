"""The data files read once and checked: every figure, rule and sentence with its source."""

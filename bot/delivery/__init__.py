"""Texts on their way out, and by which channel; pictures on their way in. It decides nothing."""

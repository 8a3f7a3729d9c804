"""The second reader: danger and purpose by a linear model that shares nothing with the grammar."""

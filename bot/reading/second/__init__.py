"""The second reader: danger and purpose by a linear model, independent of the grammar so that they do not err alike."""

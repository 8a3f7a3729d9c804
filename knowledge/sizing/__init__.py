"""From a trench as described to units, strut, pressure and stages, or to a refusal."""

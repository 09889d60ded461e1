#!/usr/bin/env python3
"""The computed field against other programs, on this machine, in this run, on one thread.

- flux density at 1e6 places about a cuboid, against magpylib
- 20 lines of the unlike-poles sheet to 0.01 mm, against SciPy's DOP853 over a field compiled from C

    pip install magpylib scipy && python3 benches/ratios.py

Needs cargo and a C compiler. Each side's best of several runs. SciPy's tolerance is the loosest at which every line
stops within 0.01 mm of where it stops at a very tight one.
"""
import ctypes
import json
import math
import os
import subprocess
import tempfile
import time

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[name] = "1"

import magpylib
import numpy as np
from scipy.integrate import solve_ivp

FIELD = r"""
#include <math.h>
/* One bar 50 x 15 x 10 mm, 400 mT, along x: two charged rectangles (Yang et al. 1990), a corner at a time, at z = 0. */
static void bar(double u, double v, double *bu, double *bv) {
    for (int e = 0; e < 2; e++) for (int i = 0; i < 2; i++) for (int j = 0; j < 2; j++) {
        double x = u + (e ? 25 : -25), y = v + (i ? -7.5 : 7.5), z = j ? -5 : 5;
        double s = (e ? -1 : 1) * (i ? -1 : 1) * (j ? -1 : 1) * 400 / (4 * M_PI), r = sqrt(x*x + y*y + z*z);
        *bu += s * atan(y * z / (x * r));
        *bv -= s * log(z + r);
    }
}
static double off(double u, double v) { double a = fabs(u) - 25, b = fabs(v) - 7.5; return a > b ? a : b; }
/* The direction of the field at (x, y) of the page, y down. */
void direction(double x, double y, double sense, double *out) {
    double a = 0, b = 0;
    bar(x - 95, 115 - y, &a, &b);
    bar(x - 202, 115 - y, &a, &b);
    double n = sense / sqrt(a*a + b*b);
    out[0] = a * n; out[1] = -b * n;
}
/* Below 0 outside the frame or inside a bar. */
double inside(double x, double y) {
    double d = fmin(fmin(x - 20, 277 - x), fmin(y - 45, 185 - y));
    return fmin(d, fmin(off(x - 95, 115 - y), off(x - 202, 115 - y)));
}
"""


def best(run, times=5):
    seconds = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        seconds.append(time.perf_counter() - start)
    return min(seconds)


def compiled():
    folder = tempfile.mkdtemp()
    source, library = os.path.join(folder, "field.c"), os.path.join(folder, "field.so")
    with open(source, "w") as file:
        file.write(FIELD)
    subprocess.run(["cc", "-O3", "-march=native", "-shared", "-fPIC", "-o", library, source, "-lm"], check=True)
    lib = ctypes.CDLL(library)
    d = ctypes.c_double
    lib.direction.argtypes, lib.direction.restype = [d, d, d, ctypes.c_void_p], None
    lib.inside.argtypes, lib.inside.restype = [d, d], d
    return lib


def lines(lib, tolerance):
    """Where 20 lines, followed both ways, stop."""
    out = np.zeros(2)
    at = out.ctypes.data
    event = lambda t, p: lib.inside(p[0], p[1])
    event.terminal = True
    stops = []
    for i in range(20):
        for sense in (1.0, -1.0):

            def step(t, p, sense=sense):
                lib.direction(p[0], p[1], sense, at)
                return out.copy()

            line = solve_ivp(step, (0, 900), (148.5, 48 + 6.5 * i), "DOP853", events=event, rtol=tolerance,
                             atol=tolerance, max_step=12.0, dense_output=True)
            stops.append(line.y_events[0][0] if len(line.y_events[0]) else line.y[:, -1])
    return np.array(stops)


def main():
    told = subprocess.run(["cargo", "bench", "--quiet", "--bench", "ratios"], check=True, stdout=subprocess.PIPE, text=True)
    ours = json.loads(next(line for line in told.stdout.splitlines() if line.startswith("{")))

    n = np.arange(ours["places"], dtype=float)
    steps = (0.6180339887498949, math.sqrt(2) - 1, 0.3027756377319946)
    places = np.stack([-100 + 200 * np.modf(n * s)[0] for s in steps], axis=1)
    cuboid = magpylib.magnet.Cuboid(polarization=(0.4, 0, 0), dimension=(0.05, 0.015, 0.01))
    metres = places * 1e-3
    theirs = cuboid.getB(metres) * 1e3
    same = np.abs(theirs).sum() / ours["sum"] - 1
    assert abs(same) < 1e-9, f"the two fields differ by {same}"
    seconds = best(lambda: cuboid.getB(metres))
    print(f"1e6 places, one cuboid: magpylib {magpylib.__version__} {seconds:.3f} s, lodemark {ours['many_s']:.4f} s "
          f"(plain form {ours['plain_s']:.3f} s): {seconds / ours['many_s']:.1f} times as fast")

    lib = compiled()
    truth = lines(lib, 1e-11)
    off = np.hypot(*(np.array(ours["stops"]) - truth).T)
    # Two lines run past the neutral points, half a millimetre inside the frame, and one between the bars' axes.
    print(f"20 lines: lodemark's 40 stops lie within {off.max():.4f} mm of DOP853's at 1e-11")
    assert off.max() < 0.01
    for tolerance in (1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 1e-7, 1e-8):
        far = np.hypot(*(lines(lib, tolerance) - truth).T).max()
        if far < 0.01:
            break
    seconds = best(lambda: lines(lib, tolerance))
    print(f"DOP853 at {tolerance:g} (within {far:.4f} mm): {seconds:.4f} s, lodemark {ours['lines_s']:.4f} s with the search "
          f"for neutral points, {ours['lines_warm_s']:.4f} s without: {seconds / ours['lines_s']:.1f} and "
          f"{seconds / ours['lines_warm_s']:.1f} times as fast")


if __name__ == "__main__":
    main()

#!/usr/bin/env python3
"""Trains what tells places where lines meet from what only looks like one, and writes its weights.

    pip install numpy scipy torch
    cargo run --release --example views -- CLASS VIEWS                 (a class folder with scans, for each class)
    python3 benches/training/meets.py VIEWS:TRUTH ... --held VIEWS:TRUTH ... --out src/vectorise/meets.weights

TRUTH holds a CODE.json a sheet: panels[0].meets[] with at_mm and certain (false: a near touch, which the drawing leaves open). A
candidate is a meeting when a true one lies within 4 mm of it or of the stretch that its lines share. --held: classes to report on,
not to train on. The same machine, seed and files give the same weights.
"""
import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree
import torch

from net import Net, run, sheets, varied

LAYERS, SIDE = 5, 48                                                          # src/vectorise/views.rs
CONVOLUTIONS = (5, 2, 8), (3, 2, 16), (3, 2, 24), (3, 1, 24)                  # src/vectorise/judge_meets.rs
FULL = 24, 24
STEP = 64
NEAR_MM, OPEN_MM, LOOSE_MM = 4.0, 5.0, 4.0
NONE, OPEN, CERTAIN, UNCOUNTED = 0, 1, 2, -1
NO_PAIR = 1e3
HARDLY = 0.1                                   # src/vectorise/judge_meets.rs


def away(place, found):
    """How far a true place lies from a candidate, mm."""
    a, b = map(np.array, found["run"])
    way = b - a
    share = np.clip(np.dot(place - a, way) / max(np.dot(way, way), 1e-9), 0, 1)
    return min(np.hypot(*(a + share * way - place)), np.hypot(*(place - found["at"])))


def labels(read, truth):
    """For each candidate what it is; and how many certain meetings have none."""
    panel = truth["panels"][0]
    true, found = panel["meets"], read["meets"]
    cost = np.full((len(found), len(true)), NO_PAIR)
    for j, place in enumerate(true):
        for i, f in enumerate(found):
            far = away(np.array(place["at_mm"]), f)
            if far <= NEAR_MM:
                cost[i, j] = far + 0.5 * (not place["certain"])
    label = np.full(len(found), NONE)
    taken = 0
    for i, j in zip(*linear_sum_assignment(cost)):
        if cost[i, j] < NO_PAIR:
            label[i] = CERTAIN if true[j]["certain"] else OPEN
            taken += true[j]["certain"]
    loose = [cKDTree(l) for l in panel.get("may_be_read", [])]                # lines too short to count
    for i, f in enumerate(found):
        if label[i] == NONE and any(not t["certain"] and away(np.array(t["at_mm"]), f) <= OPEN_MM for t in true):
            label[i] = OPEN
        if label[i] == NONE and any(l.query(f["at"])[0] <= LOOSE_MM for l in loose):
            label[i] = UNCOUNTED
    return label, sum(t["certain"] for t in true) - taken


def told(found):
    """The evidence as src/vectorise/judge_meets.rs gives it."""
    e = np.array([f["evidence"] + [f["sure"]] for f in found], float).T
    p = np.clip(e[15], 1e-9, 1 - 1e-9)
    odds = np.clip(np.log(p / (1 - p)), -np.log(999), np.log(999)) / 3
    return np.stack([np.clip(e[0], -0.5, 1), e[1] == 1, e[1] == 2, np.minimum(e[2], 20) / 10, np.minimum(e[3], 20) / 10, e[4], e[5] / 5,
                     e[6] / 5, e[7] / 12, e[8], np.minimum(e[9], 3) - 1, e[10], e[11], e[12] / 45, e[13], e[14], odds], 1).astype(np.float32)


def load(pairs):
    """Views, evidence, labels, first sureness, of all classes."""
    out, none, there = [], 0, 0
    for read, truth, file in sheets(pairs):
        label, missed = labels(read, truth)
        none, there = none + missed, there + missed + int((label == CERTAIN).sum())
        if len(label):
            seen = np.fromfile(file.with_suffix(".places"), np.uint8).reshape(-1, LAYERS, SIDE, SIDE)
            first = np.array([f["sure"] for f in read["meets"]])
            kept = label != UNCOUNTED
            out.append([v[kept] for v in (seen, told(read["meets"]), label[:, None].astype(np.float32), first)])
    print(f"{there} certain meetings, {none} of them without a candidate")
    return [np.concatenate(part) for part in zip(*out)]


def shown(view, evidence, label, dice):
    """Mirrored along and across, and the two lines taken one for the other: it is the same place."""
    some = lambda: (torch.rand(len(view), generator=dice) < 0.5)[:, None, None, None]
    for mirrored in (lambda v: v.flip(2), lambda v: v.flip(3), lambda v: v[:, [0, 1, 3, 2, 4]]):
        view = torch.where(some(), mirrored(view), view)
    return varied(view, dice, (0.2, 0.2), 0.2, (0.03, 0.03))[0], evidence, label


def sure(chances):
    """How surely lines meet, as src/vectorise/judge_meets.rs tells it: of what the drawing leaves open neither answer is wrong."""
    none, _, certain = chances.T
    return np.where(certain >= np.maximum(none, HARDLY), 1 - none, certain)


def report(name, meets, label):
    """`meets`: how surely lines meet there."""
    taken = meets >= 0.5
    wrong = (taken & (label == NONE)) | (~taken & (label == CERTAIN))
    loss = -np.log(np.clip(np.where(label == CERTAIN, meets, 1 - meets), 1e-6, 1))[label != OPEN].mean()
    print(f"{name}: {(label == CERTAIN).sum()} certain, {(label == NONE).sum()} none, {(label == OPEN).sum()} open; log loss {loss:.4f}; "
          f"taken wrongly {wrong.sum()}, in doubt (0.1 to 0.9) {((meets > 0.1) & (meets < 0.9)).sum()}")
    for low, high in zip((0, 0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.97), (0.1, 0.3, 0.5, 0.7, 0.8, 0.9, 0.97, 1.01)):
        m = (meets >= low) & (meets < high)
        counts = np.bincount(label[m], minlength=3)
        print(f"    {low:.2f} to {min(high, 1):.2f}: none {counts[0]}, open {counts[1]}, certain {counts[2]}, told {meets[m].mean() if m.any() else 0:.3f}")


def told_of(net, views, evidence, label, first):
    label = label[:, 0].astype(int)
    report("evidence alone", first, label)
    report("network", sure(net.chances(views, evidence)), label)


def built(evidence):
    return Net((LAYERS, SIDE, SIDE), CONVOLUTIONS, FULL, evidence)


if __name__ == "__main__":
    run(__doc__, 100, load, built, shown, STEP, told_of)

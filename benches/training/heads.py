#!/usr/bin/env python3
"""Trains what tells arrowheads from what only looks like one, and writes its weights.

    pip install numpy scipy torch
    cargo run --release --example views -- CLASS VIEWS            (a class folder with scans, for each class)
    python3 benches/training/heads.py VIEWS:TRUTH ... --held VIEWS:TRUTH ... --out src/vectorise/heads.weights

TRUTH holds a CODE.json a sheet: panels[0].lines[] with points_mm, and arrows[] with at_mm and towards_deg (up is 90). A candidate is a
head when a true tip lies within 5 mm of it, on a line that its own follows; other candidates of the same head on the same line are that
head, too, where its tip lies within 3 mm. How far ahead of a candidate's tip the true one lies is learnt with it. --held: classes to report on, not to train
on. The same machine, seed and files give the same weights.
"""
import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.spatial import cKDTree
import torch
from torch.nn import functional as F

from net import Net, run, sheets, varied

LAYERS, BESIDE, ALONG = 4, 28, 40              # src/vectorise/views.rs
CONVOLUTIONS = (5, 2, 16), (3, 1, 24), (3, 2, 32), (3, 2, 48)
FULL = 48, 32
STEP = 256
NEAR_MM, FOLLOWS_MM, ROUND_MM, SAME_MM = 5.0, 1.0, 6.0, 3.0
NO_PAIR = 1e3
CELL_MM, TIP = 0.3, 25                         # src/vectorise/views.rs: cells behind the tip
TURNED = 0.1, 0.03                             # of single barbs and swellings, of pairs of barbs


def follows(line, at, tree):
    """How far a read line lies from a true one round a place, mm."""
    off = np.hypot(*(line - at).T)
    near = line[off < ROUND_MM]
    return float(np.median(tree.query(near if len(near) > 1 else line[np.argsort(off)[:4]])[0]))


def labels(read, truth):
    """For each candidate: 0 no head, 1 a head that points as it does, 2 one that points the other way; how far ahead, mm, the true tip
    lies; and how many heads have no candidate."""
    arrows = [(l, a) for l in truth["panels"][0]["lines"] for a in l["arrows"]]
    heads = read["heads"]
    lines = [np.array(l) for l in read["lines"]]
    cost = np.full((len(heads), len(arrows)), NO_PAIR)
    way = np.zeros((len(arrows), 2))
    for j, (line, arrow) in enumerate(arrows):
        tree = cKDTree(np.array(line["points_mm"]))
        turn = np.radians(arrow["towards_deg"])
        way[j] = np.cos(turn), -np.sin(turn)
        for i, head in enumerate(heads):
            far = np.hypot(*(np.array(head["at"]) - arrow["at_mm"]))
            off = follows(lines[head["line"]], np.array(head["at"]), tree) if far < NEAR_MM else NO_PAIR
            if off < FOLLOWS_MM:
                cost[i, j] = far + off - 0.5 * (head["evidence"][1] - 1)
    label = np.zeros((len(heads), 2), np.float32)

    def name(i, j):
        label[i, 0] = 1 if np.dot(heads[i]["towards"], way[j]) > 0 else 2
        label[i, 1] = np.dot(np.array(arrows[j][1]["at_mm"]) - heads[i]["at"], heads[i]["towards"])

    pairs = [(i, j) for i, j in zip(*linear_sum_assignment(cost)) if cost[i, j] < NO_PAIR]
    for i, j in pairs:
        name(i, j)
    for i in np.flatnonzero(label[:, 0] == 0):
        same = [j for k, j in pairs if heads[k]["line"] == heads[i]["line"] and cost[i, j] < NO_PAIR]
        far = lambda j: np.hypot(*(np.array(heads[i]["at"]) - arrows[j][1]["at_mm"]))
        j = min(same, key=far, default=None)
        if j is not None and far(j) < SAME_MM:
            name(i, j)
    return label, len(arrows) - len(pairs)


def told(heads):
    """The evidence as src/vectorise/judge_heads.rs gives it."""
    e = np.array([h["evidence"] + [h["sure"], h["way_sure"]] for h in heads], float).T
    root = lambda area: np.sqrt(np.minimum(area, 4))
    p = np.clip(e[16:], 1e-9, 1 - 1e-9)
    odds = np.clip(np.log(p / (1 - p)), -np.log(999), np.log(999)) / 3
    return np.stack([e[0], e[1] - 1, e[2] / 45, np.minimum(e[3], 6) / 4, e[4], e[5] / 2, np.minimum(e[6], 1), np.minimum(e[7], 4) / 2,
                     e[8], e[9] / 3, e[10] / 3, *map(root, e[11:15]), *odds, e[15]], 1).astype(np.float32)


def load(pairs):
    """Views, evidence, labels, first sureness, of all classes."""
    out, none, there = [], 0, 0
    for read, truth, file in sheets(pairs):
        n = len(read["heads"])
        label, missed = labels(read, truth)
        none, there = none + missed, there + sum(len(l["arrows"]) for l in truth["panels"][0]["lines"])
        if n:
            seen = np.fromfile(file.with_suffix(".views"), np.uint8).reshape(n, LAYERS, BESIDE, ALONG)
            first = np.array([[h["sure"], h["way_sure"]] for h in read["heads"]])
            out.append((seen, told(read["heads"]), label, first))
    print(f"{there} heads, {none} of them without a candidate")
    return [np.concatenate(part) for part in zip(*out)]


def turned(view, evidence, label, dice):
    """Some heads as a candidate that points the wrong way would show them: few candidates do, and a sure wrong way costs a mark."""
    one = (evidence[:, 0] > 0.5) | (evidence[:, 1] < 0.5)
    turn = (label[:, 0] == 1) & (torch.rand(len(label), generator=dice) < torch.where(one, TURNED[0], TURNED[1]))
    if not turn.any():
        return view, evidence, label
    # Its tip is taken to be at the head's other end: so far behind the true one, in cells.
    far = 4 * evidence[turn, 3] * torch.cos(torch.deg2rad(45 * evidence[turn, 2])) / CELL_MM
    to = torch.zeros(int(turn.sum()), 2, 3)
    to[:, 0, 0], to[:, 1, 1] = -1, -1
    to[:, 0, 2] = 2 * (2 * TIP / ALONG - 1) - 2 * far / ALONG
    view, evidence, label = view.clone(), evidence.clone(), label.clone()
    view[turn] = F.grid_sample(view[turn], F.affine_grid(to, view[turn].shape, align_corners=False),
                               padding_mode="border", align_corners=False)
    evidence[turn, 11:15] = evidence[turn][:, [13, 14, 11, 12]]
    label[turn, 0] = 2
    label[turn, 1] = -label[turn, 1] - CELL_MM * far
    return view, evidence, label


def shown(view, evidence, label, dice):
    view, evidence, label = turned(view, evidence, label, dice)
    flip = torch.rand(len(view), generator=dice) < 0.5
    view = torch.where(flip[:, None, None, None], view.flip(2), view)         # mirrored across the line
    view, smaller, shift = varied(view, dice, (0.08, 0.0), 0.2, (0.1, 0.02))
    at = (2 * (TIP + label[:, 1] / CELL_MM) / ALONG - 1 - shift) / smaller    # where the true tip is seen now
    ahead = CELL_MM * ((at + 1) * ALONG / 2 - TIP)
    return view, evidence, torch.stack([label[:, 0], ahead], 1)


def report(name, chance, label):
    head, is_head = 1 - chance[:, 0], label > 0
    loss = -np.log(np.clip(np.where(is_head, head, 1 - head), 1e-6, 1)).mean()
    read = is_head & (head >= 0.5)
    wrong = (chance[read][:, 1:3].argmax(1) + 1 != label[read]).sum()
    print(f"{name}: log loss {loss:.4f}; heads read {read.sum()} of {is_head.sum()}, none read {(~is_head & (head >= 0.5)).sum()}; "
          f"in doubt (0.1 to 0.9) {((head > 0.1) & (head < 0.9)).sum()}; the wrong way {wrong}")
    for low, high in zip((0, 0.06, 0.3, 0.5, 0.7, 0.9, 0.97), (0.06, 0.3, 0.5, 0.7, 0.9, 0.97, 1.01)):
        m = (head >= low) & (head < high)
        print(f"    {low:.2f} to {min(high, 1):.2f}: {is_head[m].sum()} of {m.sum()}, told {head[m].mean() if m.any() else 0:.3f}")


def ways(chance, evidence, label):
    """What is left over of the way of swellings when the network's odds of it are tempered: SWELLING_WAY in src/vectorise/judge_heads.rs."""
    read = (label > 0) & (chance[:, 0] < 0.5) & (evidence[:, 0] > 0.5)
    odds = np.log(np.maximum(chance[read, 1], 1e-9) / np.maximum(chance[read, 2], 1e-9)).clip(-9, 9)
    right = np.where(label[read] == 1, odds, -odds)
    left = {share: round(float(np.log1p(np.exp(-share * right)).mean()), 4) for share in (0.3, 0.4, 0.5, 0.6, 0.7, 1.0)}
    print(f"way of {read.sum()} swellings, wrong at {(right < 0).sum()}; log loss by share of the odds: {left}")


def tips(ahead, told, label):
    """How far ahead of their candidates the tips lie, and of where they are told to lie."""
    for name, off in ("candidates", ahead), ("told", ahead - told):
        low, median, high = np.percentile(off[label > 0], (16, 50, 84))
        print(f"tips ahead of the {name}: median {median:.2f} mm, two thirds {low:.2f} to {high:.2f}")


def told_of(net, views, evidence, label, first):
    label, ahead = label[:, 0].astype(int), label[:, 1]
    sure, way = first.T
    report("evidence alone", np.stack([1 - sure, sure * way, sure * (1 - way)], 1), label)
    chances = net.chances(views, evidence)
    report("network", chances, label)
    ways(chances, evidence, label)
    tips(ahead, chances[:, 3], label)


def built(evidence):
    return Net((LAYERS, BESIDE, ALONG), CONVOLUTIONS, FULL, evidence, places=True)


if __name__ == "__main__":
    run(__doc__, 40, load, built, shown, STEP, told_of)

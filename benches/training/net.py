"""The networks of src/vectorise/network.rs in PyTorch: what heads.py and meets.py train."""
import argparse
import json
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.nn import functional as F

TOLD = 3
PLACE_WEIGHT, PLACE_CLEAR = 0.2, 0.3           # of an error in place beside one in kind; mm from where on it counts by itself, not squared
WITHOUT = 0.15                                 # so many are shown without the evidence, so that it also learns to look


class Net(nn.Module):
    """`shape`: layers, rows, columns; (side, step, layers out) of each convolution; numbers out of the full layers but the last.

    `places`: tells besides the kinds how far along its line the thing lies from where it was looked for, mm.
    """

    def __init__(self, shape, convolutions, full, evidence, places=False):
        super().__init__()
        layers, rows, columns = self.shape = shape
        self.evidence = evidence
        self.convolutions = nn.ModuleList()
        for side, step, out in convolutions:
            self.convolutions.append(nn.Conv2d(layers, out, side, stride=step, padding=side // 2))
            layers, rows, columns = out, -(-rows // step), -(-columns // step)
        first, second = full
        sizes = (layers * rows * columns, first), (first + evidence, second), (second, TOLD + places)
        self.full = nn.ModuleList(nn.Linear(i, o) for i, o in sizes)
        self.drop = nn.Dropout(0.3)

    def forward(self, view, evidence):
        for layer in self.convolutions:
            view = F.relu(layer(view))
        seen = view.permute(0, 2, 3, 1).flatten(1)           # rows, columns, layers
        seen = F.relu(self.full[0](self.drop(seen)))
        return self.full[2](F.relu(self.full[1](torch.cat([seen, evidence], 1))))

    def bytes(self):
        parts = [p for c in self.convolutions for p in (c.weight.permute(2, 3, 1, 0), c.bias)]
        parts += [p for f in self.full for p in (f.weight.T, f.bias)]
        return b"".join(p.detach().contiguous().numpy().astype("<f4").tobytes() for p in parts)

    def tell(self, view, evidence):
        """The chances of the kinds, and the place if it tells one."""
        with torch.no_grad():
            out = self(view, evidence)
            return torch.cat([F.softmax(out[:, :TOLD], 1), out[:, TOLD:]], 1)

    def chances(self, views, evidence):
        parts = 1 + len(views) // 4096
        return torch.cat([self.tell(torch.from_numpy(v).float() / 255, torch.from_numpy(e))
                          for v, e in zip(np.array_split(views, parts), np.array_split(evidence, parts))]).numpy()

    def check(self):
        """What it makes of a made-up view: the numbers of the tests in src/vectorise/judge_heads.rs and judge_meets.rs."""
        cell = torch.arange(int(np.prod(self.shape)))
        view = (cell * 37 % 101 < 9).float().reshape(1, *self.shape)
        return self.tell(view, torch.arange(float(self.evidence))[None] / 10 - 0.5)[0].tolist()


def varied(view, dice, turn, scale, shift):
    """A little larger or smaller, sheared or turned, and shifted: hands differ. `turn` is a pair: of columns by rows, of rows by columns.

    Also what was done to the columns: by how much they were made smaller, and shifted (from -1 to 1 across the view).
    """
    n = len(view)
    even = lambda reach: (torch.rand(n, generator=dice) - 0.5) * 2 * reach
    to = torch.zeros(n, 2, 3)
    to[:, 0, 0] = to[:, 1, 1] = torch.exp(even(scale))
    by = even(1.0)
    to[:, 0, 1], to[:, 1, 0] = by * turn[0], -by * turn[1]
    to[:, 0, 2], to[:, 1, 2] = even(shift[0]), even(shift[1])
    return F.grid_sample(view, F.affine_grid(to, view.shape, align_corners=False), align_corners=False), to[:, 0, 0], to[:, 0, 2]


def missed(told, is_what):
    """`is_what`: the kind, and the place of what is of any but the first."""
    kind = is_what[:, 0].long()
    loss = F.cross_entropy(told[:, :TOLD], kind)
    if told.shape[1] > TOLD:
        off = F.smooth_l1_loss(told[:, TOLD], is_what[:, 1], reduction="none", beta=PLACE_CLEAR)
        loss = loss + PLACE_WEIGHT * (off * (kind > 0)).mean()
    return loss


def train(net, views, evidence, label, rounds, seed, shown, step, rate=2e-3):
    """`step`: candidates a step. `shown`: what is made of a part (views, evidence, labels, dice) before it is learnt from."""
    torch.set_num_threads(1)                   # the order of sums, and so the weights, must not hang on how many there are
    dice = torch.Generator().manual_seed(seed)
    steps = rounds * -(-len(label) // step)
    best = torch.optim.AdamW(net.parameters(), lr=rate, weight_decay=1e-3)
    pace = torch.optim.lr_scheduler.OneCycleLR(best, rate, total_steps=steps + 1)
    views, evidence, label = map(torch.from_numpy, (views, evidence, label))
    for k in range(rounds):
        net.train()
        total = 0.0
        for part in torch.randperm(len(label), generator=dice).split(step):
            kept = (torch.rand(len(part), 1, generator=dice) > WITHOUT).float()
            view, told, is_what = shown(views[part].float() / 255, evidence[part], label[part], dice)
            loss = missed(net(view, told * kept), is_what)
            best.zero_grad()
            loss.backward()
            best.step()
            pace.step()
            total += loss.item() * len(part)
        if k % 5 == 4:
            print(f"round {k + 1}: {total / len(label):.4f}", flush=True)
    return net.eval()


def sheets(pairs):
    """What was read of each sheet, its truth, and its file of readings, for each VIEWS:TRUTH."""
    for pair in pairs:
        views, truths = map(Path, pair.split(":"))
        for file in sorted(views.glob("*.json")):
            yield json.loads(file.read_text()), json.loads((truths / file.name).read_text()), file


def run(doc, rounds, load, built, shown, step, told):
    """The course of both programs: train on the classes asked for, tell of those held out, write the weights.

    `load`: views, evidence, labels, first sureness of classes; `built`: a net for so much evidence; `told`: tells of a trained net.
    """
    ask = argparse.ArgumentParser(description=doc, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("classes", nargs="+", metavar="VIEWS:TRUTH")
    ask.add_argument("--held", nargs="*", default=[], metavar="VIEWS:TRUTH")
    ask.add_argument("--out", type=Path)
    ask.add_argument("--rounds", type=int, default=rounds)
    ask.add_argument("--seed", type=int, default=1)
    asked = ask.parse_args()
    views, evidence, label, _ = load(asked.classes)
    print(f"{len(label)} candidates: {np.bincount(label[:, 0].astype(int), minlength=TOLD)}")
    torch.manual_seed(asked.seed)
    net = built(evidence.shape[1])
    train(net, views, evidence, label, asked.rounds, asked.seed, shown, step)
    if asked.held:
        told(net, *load(asked.held))
    if asked.out:
        asked.out.write_bytes(net.bytes())
        print("test:", net.check())

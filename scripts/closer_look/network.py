"""The network of the closer look: a picture of two legs -> ten points, depths, headings
(`outputs.py` says what they are)."""

import torch
import torch.nn as nn
import torch.nn.functional as F

from outputs import HEIGHT, POINTS, SCALARS, UNIT, WIDTH


def layer(inside, outside, kernel=1, stride=1, groups=1, active=True):
    parts = [nn.Conv2d(inside, outside, kernel, stride, kernel // 2, groups=groups, bias=False), nn.BatchNorm2d(outside)]
    return nn.Sequential(*parts, nn.ReLU(inplace=True)) if active else nn.Sequential(*parts)


class Block(nn.Module):
    """An inverted residual with a wide depthwise kernel."""

    def __init__(self, inside, outside, wider, stride=1):
        super().__init__()
        self.same = stride == 1 and inside == outside
        wide = inside * wider
        self.body = nn.Sequential(layer(inside, wide), layer(wide, wide, 5, stride, wide), layer(wide, outside, active=False))

    def forward(self, x):
        return x + self.body(x) if self.same else self.body(x)


class CloserLook(nn.Module):
    def __init__(self):
        super().__init__()
        points, scalars = len(POINTS), len(SCALARS)
        self.stem = nn.Sequential(layer(3, 24, 3, 2), layer(24, 40, 3, 2), Block(40, 40, 2))
        self.eighth = nn.Sequential(Block(40, 80, 3, 2), Block(80, 80, 3), Block(80, 80, 3))
        self.sixteenth = nn.Sequential(Block(80, 144, 4, 2), *[Block(144, 144, 4) for _ in range(3)])
        self.half_that = nn.Sequential(Block(144, 224, 4, 2), *[Block(224, 224, 4) for _ in range(3)])
        wide = 64
        self.sides = nn.ModuleList(layer(c, wide, active=False) for c in (224, 144, 80, 40))
        mix = lambda: nn.Sequential(layer(wide, wide, 5, 1, wide), layer(wide, wide))
        self.mixes = nn.ModuleList([mix(), mix(), nn.Sequential(mix(), mix())])
        self.heat = nn.Conv2d(wide, points, 1)
        # What is at the points tells depth and heading better than the whole picture's mean.
        self.near = layer(144, 48, active=False)
        self.head = nn.Sequential(
            nn.Linear(224 + 144 + points * 50, 384), nn.ReLU(inplace=True),
            nn.Linear(384, 256), nn.ReLU(inplace=True), nn.Linear(256, 2 * points + 2 * scalars))
        self.register_buffer("columns", ((torch.arange(WIDTH // 4) + 0.5) * 4).float().view(1, 1, 1, -1))
        self.register_buffer("rows", ((torch.arange(HEIGHT // 4) + 0.5) * 4).float().view(1, 1, -1, 1))
        self.register_buffer("unit", torch.tensor(UNIT))

    def forward(self, picture):
        """Points (B, 10, 2), their log-scales (B, 10, 2), scalars (B, 12, 2: value and log-scale),
        heat maps (B, 10, 80, 64)."""
        x = (picture - 0.45) / 0.25
        a4 = self.stem(x)
        a8 = self.eighth(a4)
        a16 = self.sixteenth(a8)
        a32 = self.half_that(a16)
        twice = lambda v: F.interpolate(v, scale_factor=2.0, mode="bilinear", align_corners=False)
        p = self.mixes[0](self.sides[1](a16) + twice(self.sides[0](a32)))
        p = self.mixes[1](self.sides[2](a8) + twice(p))
        p = self.mixes[2](self.sides[3](a4) + twice(p))
        heat = self.heat(p).float()
        b, k, rows, columns = heat.shape
        share = torch.softmax(heat.reshape(b, k, rows * columns), -1)
        grid = share.reshape(b, k, rows, columns)
        points = torch.stack([(grid * self.columns).sum((2, 3)), (grid * self.rows).sum((2, 3))], -1)
        # Features at the points: the maps of heat, coarse, pick them out.
        coarse = F.avg_pool2d(grid, 4) * 16.0
        near = torch.einsum("bkn,bcn->bkc", coarse.reshape(b, k, -1), self.near(a16).float().reshape(b, 48, -1))
        where = (points - points.mean(1, keepdim=True)) / 64.0
        seen = torch.cat([a32.mean((2, 3)).float(), a16.mean((2, 3)).float(), torch.cat([near, where], -1).flatten(1)], 1)
        out = self.head(seen).float()
        log_scales = out[:, : 2 * k].reshape(b, k, 2)
        scalars = out[:, 2 * k :].reshape(b, len(SCALARS), 2)
        value = scalars[..., 0] / self.unit
        log_scale = scalars[..., 1] - torch.log(self.unit)
        return points, log_scales, torch.stack([value, log_scale], -1), heat

"""Makes rendered crops as unlike one another as films are. All on the GPU, (B, 3, H, W) 0..1.

Sizes and shares are choices without an outside source, wide enough that a phone's film lies
within them.
"""

import math

import numpy as np
import torch
import torch.nn.functional as F

from outputs import HEIGHT, WIDTH

# The luminance table of the JPEG standard (ITU-T T.81, annex K).
QUANTUM = torch.tensor([
    [16, 11, 10, 16, 24, 40, 51, 61], [12, 12, 14, 19, 26, 58, 60, 55],
    [14, 13, 16, 24, 40, 57, 69, 56], [14, 17, 22, 29, 51, 87, 80, 62],
    [18, 22, 37, 56, 68, 109, 103, 77], [24, 35, 55, 64, 81, 104, 113, 92],
    [49, 64, 78, 87, 103, 121, 120, 101], [72, 92, 95, 98, 112, 100, 103, 99]]).float()
COSINES = torch.tensor([[math.sqrt((1 if i == 0 else 2) / 8) * math.cos(math.pi * (2 * j + 1) * i / 16) for j in range(8)] for i in range(8)])
TO_YCC = torch.tensor([[.299, .587, .114], [-.169, -.331, .5], [.5, -.419, -.081]])


class Dice:
    """Random numbers for a batch, shaped to multiply pictures."""

    def __init__(self, batch, device):
        self.batch, self.device = batch, device

    def even(self, *shape):
        return torch.rand(self.batch, *(shape or (1, 1, 1)), device=self.device)

    def normal(self, *shape):
        return torch.randn(self.batch, *(shape or (1, 1, 1)), device=self.device)

    def some(self, share):
        """1 for this share of the batch, else 0."""
        return (self.even() < share).float()


def textures(batch, height, width, device):
    """Random patterns: noise of several sizes, stripes."""
    out = torch.zeros(batch, 3, height, width, device=device)
    for cells in (2, 5, 12, 40, 100):
        noise = torch.rand(batch, 3, cells, cells, device=device)
        grey = torch.rand(batch, 1, 1, 1, device=device) < .5
        noise = torch.where(grey, noise.mean(1, True).expand(-1, 3, -1, -1), noise)
        size = torch.rand(batch, 1, 1, 1, device=device) ** 2
        out += size * (F.interpolate(noise, size=(height, width), mode="bilinear" if cells < 30 else "nearest") - .5)
    y, x = torch.meshgrid(torch.linspace(-1, 1, height, device=device), torch.linspace(-1, 1, width, device=device), indexing="ij")
    for _ in range(2):
        angle = torch.rand(batch, 1, 1, device=device) * math.pi
        often = 3 * 20 ** torch.rand(batch, 1, 1, device=device)
        phase = 6 * torch.rand(batch, 1, 1, device=device)
        stripes = torch.sign(torch.sin(often * (x * torch.cos(angle) + y * torch.sin(angle)) + phase))
        out += (torch.rand(batch, 1, 1, 1, device=device) < .3) * .4 * (torch.rand(batch, 3, 1, 1, device=device) - .5) * stripes[:, None]
    return (out + torch.rand(batch, 3, 1, 1, device=device)).clamp(0, 1)


def blocks(x, coarse):
    """8 x 8 quantisation as films and pictures have it. coarse (B,): factor of QUANTUM."""
    cosines, quantum, to_ycc = COSINES.to(x), QUANTUM.to(x), TO_YCC.to(x)
    shift = np.random.randint(8), np.random.randint(8)
    y = torch.einsum("ij,bjhw->bihw", to_ycc, torch.roll(x, shift, (2, 3)) * 255)
    b, c, h, w = y.shape
    t = y.reshape(b, c, h // 8, 8, w // 8, 8)
    t = torch.einsum("ij,bchjwk->bchiwk", cosines, t)
    t = torch.einsum("bchiwk,lk->bchiwl", t, cosines)
    chroma = torch.tensor([1., 2, 2], device=x.device).view(1, 3, 1, 1, 1, 1)
    step = (quantum.view(1, 1, 1, 8, 1, 8) * coarse.view(b, 1, 1, 1, 1, 1) * chroma).clamp(min=1)
    r = t / step
    t = torch.sign(r) * torch.floor(r.abs() + .38) * step
    t = torch.einsum("ji,bchjwk->bchiwk", cosines, t)
    y = torch.einsum("bchiwk,kl->bchiwl", t, cosines).reshape(b, c, h, w)
    x = torch.einsum("ij,bjhw->bihw", torch.linalg.inv(to_ycc), y) / 255
    return torch.roll(x, (-shift[0], -shift[1]), (2, 3)).clamp(0, 1)


def cut(pictures, points, dice):
    """Another crop of each picture: shifted up to 7 %, zoomed up to 15 %, turned a little.

    pictures (B, H0, W0, 4) uint8, points (B, K, 2) in their pixels. Gives RGB, mask, points in
    pixels of the crop, and how much larger the crop's side is than the nominal one (B,)."""
    b, h0, w0, _ = pictures.shape
    device = pictures.device
    zoom = torch.exp((dice.even(1)[:, 0] - .5) * .30)
    angle = dice.normal(1)[:, 0] * math.radians(1.5)
    size = torch.tensor([WIDTH, HEIGHT], device=device)
    shift = (dice.even(2) - .5) * .14 * size
    c, s = torch.cos(angle) * zoom, torch.sin(angle) * zoom
    # Pixels of the crop -> of the stored picture.
    turn = torch.stack([torch.stack([c, -s], -1), torch.stack([s, c], -1)], 1)
    rows, columns = torch.meshgrid(torch.arange(HEIGHT, device=device) + .5 - HEIGHT / 2, torch.arange(WIDTH, device=device) + .5 - WIDTH / 2, indexing="ij")
    middle = torch.tensor([w0 / 2, h0 / 2], device=device)
    place = torch.stack([columns, rows], -1).reshape(1, -1, 2) @ turn.transpose(1, 2) + (middle + shift)[:, None]
    grid = (2 * place / torch.tensor([w0, h0], device=device) - 1).reshape(b, HEIGHT, WIDTH, 2)
    x = F.grid_sample(pictures.permute(0, 3, 1, 2).float() / 255, grid, mode="bilinear", padding_mode="border", align_corners=False)
    points = (points - middle - shift[:, None]) @ torch.linalg.inv(turn).transpose(1, 2) + size / 2
    return x[:, :3], x[:, 3:], points, zoom


def dress(x, mask, dice):
    """Patterns over the person, other surroundings."""
    pattern = textures(len(x), HEIGHT, WIDTH, x.device)
    much = dice.some(.35) * dice.even() * .9
    x = x * (1 - mask * much) + mask * much * (x * 2 * pattern).clamp(0, 1)
    much = dice.some(.12) * .6 * mask
    x = x * (1 - much) + much * pattern.flip(0)
    much = dice.some(.40)
    # Half-transparent for some: shadows at the feet stay.
    keep = dice.some(.5) * dice.even() * .7
    behind = keep * x + (1 - keep) * textures(len(x), HEIGHT, WIDTH, x.device)
    return x * (1 - much * (1 - mask)) + much * (1 - mask) * behind


def hide(x, dice):
    """Things in the way: boxes, discs, bars and cables."""
    device = x.device
    rows, columns = torch.meshgrid(torch.arange(HEIGHT, device=device) + .5, torch.arange(WIDTH, device=device) + .5, indexing="ij")
    rows, columns = rows[None, None], columns[None, None]
    for _ in range(2):
        at = dice.even() * WIDTH, dice.even() * HEIGHT
        reach = (.03 + .12 * dice.even()) * WIDTH, (.03 + .10 * dice.even()) * HEIGHT
        away = (columns - at[0]).abs() / reach[0], (rows - at[1]).abs() / reach[1]
        round_ = dice.even() < .5
        far = torch.where(round_, (away[0] ** 2 + away[1] ** 2).sqrt(), torch.maximum(*away))
        m = (far < 1).float() * dice.some(.12)
        x = x * (1 - m) + m * dice.even(3, 1, 1)
    size = torch.tensor([WIDTH, HEIGHT], device=device).float()
    for _ in range(3):
        first, last = (dice.even(2) * 1.4 - .2) * size, (dice.even(2) * 1.4 - .2) * size
        way = last - first
        from_first = torch.stack([columns.expand(1, 1, HEIGHT, WIDTH), rows.expand(1, 1, HEIGHT, WIDTH)], -1)[:, 0] - first[:, None, None]
        share = ((from_first * way[:, None, None]).sum(-1) / (way * way).sum(-1)[:, None, None].clamp(min=1)).clamp(0, 1)
        far = (from_first - share[..., None] * way[:, None, None]).norm(dim=-1)
        m = (far < 1 + 5 * dice.even(1, 1) ** 2).float()[:, None] * dice.some(.10)
        x = x * (1 - m) + m * dice.even(3, 1, 1)
    return x


def light(x, dice):
    """Gamma, saturation, colour cast, contrast."""
    x = x.clamp(1e-4, 1) ** torch.exp(dice.normal() * .35)
    grey = x.mean(1, True)
    x = grey + (x - grey) * torch.exp(dice.normal() * .4)
    x = x * torch.exp(dice.normal(3, 1, 1) * .08) * torch.exp(dice.normal() * .25)
    mean = x.mean((1, 2, 3), True)
    return (mean + (x - mean) * torch.exp(dice.normal() * .25)).clamp(0, 1)


def lens(x, dice):
    """Blur of lens and movement, fewer pixels, noise fine and coarse, compression."""
    b, device = len(x), x.device
    small = .2 + 1.2 * dice.even(1)[:, 0] ** 2
    large = torch.where(dice.even(1)[:, 0] < .3, small + 3.0 * dice.even(1)[:, 0], small)
    angle = dice.even(1)[:, 0] * math.pi
    k = torch.arange(-6, 7, device=device).float()
    rows, columns = torch.meshgrid(k, k, indexing="ij")
    c, s = torch.cos(angle)[:, None, None], torch.sin(angle)[:, None, None]
    kernel = torch.exp(-.5 * (((columns * c + rows * s) / large[:, None, None]) ** 2 + ((rows * c - columns * s) / small[:, None, None]) ** 2))
    kernel = (kernel / kernel.sum((1, 2), True))[:, None].expand(-1, 3, -1, -1).reshape(b * 3, 1, 13, 13)
    padded = F.pad(x, (6, 6, 6, 6), mode="replicate").reshape(1, b * 3, HEIGHT + 12, WIDTH + 12)
    x = F.conv2d(padded, kernel, groups=b * 3).reshape(b, 3, HEIGHT, WIDTH)
    fewer = float(np.random.uniform(.22, .95))
    low = F.interpolate(F.interpolate(x, scale_factor=fewer, mode="area"), size=(HEIGHT, WIDTH), mode="bilinear", align_corners=False)
    m = dice.some(.35)
    x = x * (1 - m) + m * low
    coarse = F.interpolate(torch.randn(b, 3, HEIGHT // 2, WIDTH // 2, device=device), size=(HEIGHT, WIDTH), mode="bilinear")
    x = (x + .04 * dice.even() ** 2 * (torch.randn_like(x) + 1.5 * dice.some(.5) * coarse)).clamp(0, 1)
    m = dice.some(.6)
    return x * (1 - m) + m * blocks(x, .1 * 20 ** dice.even(1)[:, 0])


def augmented(pictures, points):
    """Pictures (B, 3, HEIGHT, WIDTH), points in their pixels, zoom (B,)."""
    dice = Dice(len(pictures), pictures.device)
    x, mask, points, zoom = cut(pictures, points, dice)
    return lens(light(hide(dress(x, mask, dice), dice), dice), dice), points, zoom

"""Trains the closer look. train.py CROPS OUT SECONDS [--after STATE] [--rate RATE]

CROPS: folder of shards of scripts/render/crops.py; those whose name says so are kept for
checking. Training ends after SECONDS; the rate falls along half a cosine to nought. Writes
OUT/closer_look.onnx (fp32), OUT/state.pt, OUT/log.
"""

import argparse
import glob
import math
import time

import numpy as np
import torch

from augment import augmented
from crops import read
from network import CloserLook
from outputs import ANGLES, HEIGHT, OF_A_LEG, POINTS, SCALARS, UNIT, WIDTH

BATCH, WARM_UP = 256, 300


def load(files, device):
    """Pictures uint8, points, scalars and which of them are known, of all shards."""
    parts = [read(file) for file in files]
    count = sum(len(part[0]) for part in parts)
    pictures = torch.empty((count, *parts[0][0].shape[1:]), dtype=torch.uint8, device=device)
    rest = [[], [], []]
    begin = 0
    while parts:
        part = parts.pop()
        pictures[begin : begin + len(part[0])] = torch.from_numpy(np.ascontiguousarray(part[0])).to(device)
        begin += len(part[0])
        for column, values in zip(rest, part[1:]):
            column.append(torch.from_numpy(values).float())
    return pictures, *(torch.cat(column).to(device) for column in rest)


def laplace(error, log_scale):
    return error * torch.exp(-log_scale) + log_scale


def loss_of(network, x, points, scalars, known):
    with torch.autocast(x.device.type, torch.bfloat16):
        found, log_scales, values, heat = network(x)
    limits = torch.tensor([WIDTH, HEIGHT], device=x.device)
    inside = ((points > 2) & (points < limits - 2)).all(-1).float()
    count = inside.sum() + 1
    error = (found - points).abs()
    log_scales = log_scales.clamp(-2.5, 4)
    by_point = (laplace(error, log_scales).sum(-1) * inside).sum() / (2 * count)
    plain = (error.sum(-1) * inside).sum() / (2 * count)
    # Heat where the point is, a hill of 1.5 cells.
    away = (network.columns - points[..., 0, None, None]) ** 2 + (network.rows - points[..., 1, None, None]) ** 2
    hill = torch.exp(-.5 * away / 6.0**2).flatten(2)
    hill = hill / hill.sum(-1, True).clamp(min=1e-6)
    entropy = -(hill * torch.log_softmax(heat.flatten(2), -1)).sum(-1)
    by_heat = (entropy * inside).sum() / count
    unit = torch.tensor(UNIT, device=x.device)
    wrong = (values[..., 0] - scalars).abs() * unit
    scale = (values[..., 1] + torch.log(unit)).clamp(-3, 3)
    by_scalar = (laplace(wrong, scale) * known).sum() / (known.sum() + 1)
    return by_point + .1 * plain + .15 * by_heat + 2.0 * by_scalar + .2 * (wrong * known).sum() / (known.sum() + 1)


@torch.no_grad()
def report(network, held):
    """Mean errors on people never trained on: points px, scalars px and degrees."""
    network.eval()
    points_off, scalars_off, weight = [], [], []
    pictures, points, scalars, known = held
    torch.manual_seed(5)
    for i in range(0, len(pictures), 128):
        x, p, zoom = augmented(pictures[i : i + 128], points[i : i + 128])
        found, _, values, _ = network(x)
        points_off.append((found - p).abs().mean((0,)))
        scale = scaled(scalars[i : i + 128], zoom)
        k = known[i : i + 128]
        scalars_off.append(((values[..., 0] - scale).abs() * k).sum(0) / k.sum(0).clamp(min=1))
    network.train()
    u = torch.stack(points_off).mean(0)
    s = torch.stack(scalars_off).mean(0)
    text = " ".join(f"{n}:{a:.2f}/{b:.2f}" for n, (a, b) in zip(POINTS, u.tolist()))
    degrees = lambda n, v: math.degrees(v) if n in ANGLES else v
    return text + " | " + " ".join(f"{n}:{degrees(n, v):.2f}" for n, v in zip(SCALARS, s.tolist()))


def scaled(scalars, zoom):
    """Lengths in pixels of a crop that is so much larger; angles stay."""
    out = scalars.clone()
    for i, name in enumerate(SCALARS):
        if name not in ANGLES:
            out[:, i] = out[:, i] / zoom
    return out


OTHER_POINT = torch.tensor([(i + len(POINTS) // 2) % len(POINTS) for i in range(len(POINTS))])
OTHER_SCALAR = torch.tensor([(i + len(OF_A_LEG)) % (2 * len(OF_A_LEG)) for i in range(2 * len(OF_A_LEG))] + [10, 11])
# What is to the right is to the left in a mirror, and the left ankle is the right one.
MIRRORED = torch.tensor([-1.0 if name in ANGLES or name == "ankle_nearer" else 1.0 for name in SCALARS])


def mirrored(pictures, points, scalars, known):
    """Half of the batch as seen in a mirror."""
    device = pictures.device
    half = len(pictures) // 2
    flipped = points[:half][:, OTHER_POINT.to(device)].clone()
    flipped[..., 0] = pictures.shape[2] - flipped[..., 0]
    other = OTHER_SCALAR.to(device)
    return (
        torch.cat([pictures[:half].flip(2), pictures[half:]]),
        torch.cat([flipped, points[half:]]),
        torch.cat([scalars[:half][:, other] * MIRRORED.to(device), scalars[half:]]),
        torch.cat([known[:half][:, other], known[half:]]),
    )


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("crops")
    asked.add_argument("out")
    asked.add_argument("seconds", type=float)
    asked.add_argument("--after", help="state.pt of a training before")
    asked.add_argument("--rate", type=float, default=2e-3, help="highest rate of learning")
    asked = asked.parse_args()
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = True
    torch.manual_seed(1)
    np.random.seed(1)
    begun = time.time()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    files = sorted(glob.glob(f"{asked.crops}/*.npz"))
    held_files = files[::40]
    held = load(held_files, device)
    pictures, points, scalars, known = load([f for f in files if f not in held_files], device)
    network = CloserLook().to(device).to(memory_format=torch.channels_last)
    steady = CloserLook().to(device)
    optimiser = torch.optim.AdamW(network.parameters(), lr=asked.rate, weight_decay=.02)
    if asked.after:
        state = torch.load(asked.after, map_location=device)
        network.load_state_dict(state["network"])
    steady.load_state_dict(network.state_dict())
    log = open(f"{asked.out}/log", "w", buffering=1)

    def say(text):
        print(text, flush=True)
        log.write(text + "\n")

    say(f"{len(pictures)} crops, {len(held[0])} kept for checking, loaded in {time.time() - begun:.0f} s")
    float_of = lambda n: [v for v in n.state_dict().values() if v.dtype.is_floating_point]
    step, begun = 0, time.time()
    while (spent := time.time() - begun) < asked.seconds:
        index = torch.randint(0, len(pictures), (BATCH,), device=device)
        rate = asked.rate * min(1, (step + 1) / WARM_UP) * (.5 + .5 * math.cos(math.pi * spent / asked.seconds)) + 1e-6
        for group in optimiser.param_groups:
            group["lr"] = rate
        with torch.no_grad():
            picked = mirrored(pictures[index], points[index], scalars[index], known[index])
            x, p, zoom = augmented(*picked[:2])
            s = scaled(picked[2], zoom)
        loss = loss_of(network, x.contiguous(memory_format=torch.channels_last), p, s, picked[3])
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 5.0)
        optimiser.step()
        step += 1
        with torch.no_grad():
            keep = min(.999, (1 + step) / (10 + step))
            torch._foreach_mul_(float_of(steady), keep)
            torch._foreach_add_(float_of(steady), float_of(network), alpha=1 - keep)
        if step % 400 == 0:
            say(f"{step} {spent:.0f} s loss {loss.item():.3f} | {report(steady, held)}")
    say(f"end {step} | {report(steady, held)}")
    half = {name: v.half() if v.dtype.is_floating_point else v for name, v in steady.state_dict().items()}
    torch.save({"network": half}, f"{asked.out}/state.pt")
    steady.eval().float().cpu()

    class WithoutHeat(torch.nn.Module):
        def __init__(self):
            super().__init__()
            self.network = steady

        def forward(self, picture):
            points, log_scales, scalars, _ = self.network(picture)
            return points, log_scales, scalars

    torch.onnx.export(
        WithoutHeat().eval(), torch.zeros(1, 3, HEIGHT, WIDTH), f"{asked.out}/closer_look.onnx",
        input_names=["picture"], output_names=["points", "log_scales", "scalars"], opset_version=17,
        dynamic_axes={n: {0: "pictures"} for n in ("picture", "points", "log_scales", "scalars")}, dynamo=False)
    say(f"{sum(p.numel() for p in steady.parameters())} parameters")


if __name__ == "__main__":
    main()

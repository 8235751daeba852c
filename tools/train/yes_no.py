"""Trains a small net that answers yes or no: the second look's and the witness of whole bases."""

import math
import random
import time

import numpy as np
import torch
import torch.nn.functional as F

from train import Average

PEAK_RATE, DECAY, WARM_STEPS = 2e-3, 0.03, 200
# Answers are asked for a little short of certainty.
SHORT = 0.01


def seeded(seed: int) -> torch.device:
    """The device to train on; chance begins at `seed`."""
    torch.manual_seed(seed)
    random.seed(seed)
    np.random.seed(seed)
    return torch.device("cuda" if torch.cuda.is_available() else "cpu")


def trained(net: torch.nn.Module, batch, of_kiln: int, minutes: float, say) -> torch.nn.Module:
    """The averaged net after so many minutes. `batch()` gives what the net sees (N, ...) and the answers (N,), 0 or 1,
    kiln's `of_kiln` first."""
    average = Average(net)
    device = next(net.parameters()).device
    optimiser = torch.optim.AdamW(net.parameters(), PEAK_RATE, weight_decay=DECAY)
    begin, spoken, step = time.time(), 0.0, 0
    say(f"{sum(p.numel() for p in net.parameters())} weights")
    while (passed := (time.time() - begin) / 60) < minutes:
        part = passed / minutes
        for group in optimiser.param_groups:
            group["lr"] = PEAK_RATE * min(1, (step + 1) / WARM_STEPS) * (0.5 + 0.5 * math.cos(math.pi * part)) + 1e-6
        with torch.no_grad():
            seen, target = batch()
        with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
            odds = net(seen)
        loss = F.binary_cross_entropy_with_logits(odds, target * (1 - 2 * SHORT) + SHORT)
        optimiser.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 5.0)
        optimiser.step()
        average.update(step)
        step += 1
        if passed - spoken > 0.5:
            spoken = passed
            wrong = ((odds > 0) != (target > 0.5)).float()
            kiln, drawn = wrong[:of_kiln].mean(), wrong[of_kiln:].mean()
            say(f"{passed:5.2f} min  step {step:6d}  loss {loss.item():.4f}  wrong kiln {kiln:.3f}  drawn {drawn:.3f}")
    say(f"{step} steps")
    return average.net.eval()

"""Write a trained network as one ONNX file that needs nothing beside onnxruntime. Needs PyTorch and ONNX.

python -m training.export --checkpoint FILE --held-out DIR --out FILE --commit HASH
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import torch
from onnx import TensorProto, helper, numpy_helper
from torch import Tensor, nn

from fanlight.recognise.picture_square import SIDE_PX
from training.label_sets import LANDMARKS, NONE_OF_THESE, Structure, views
from training.losses import soft_cross_entropy
from training.network import PictureNetwork, heat_places
from training.store import Store, net_input
from training.train import sizes

OUTPUTS = ("view", "frame_view", "mirrored", "structures", "landmarks", "phase")
SMALLEST_STORED_HALF = 256  # numbers; smaller tables keep their full width


class Shipped(nn.Module):
    """The network with its answers as a user wants them: shares, places and spreads in pixels of the square."""

    def __init__(self, network: PictureNetwork, temperature: float) -> None:
        super().__init__()
        self.network, self.temperature = network, temperature

    def forward(self, frames: Tensor) -> tuple[Tensor, ...]:
        """Return the outputs named in OUTPUTS for the frames (F, 2, side, side) of one clip."""
        answers = self.network(frames, frames.shape[0])
        place, _ = heat_places(answers.heat)
        sure = torch.stack([answers.log_spread.exp(), answers.shown.sigmoid()], dim=-1)
        landmarks = torch.cat([place, sure], dim=-1)
        phase = torch.atan2(answers.phase[:, 1], answers.phase[:, 0]) / (2 * torch.pi)
        return (
            (answers.view / self.temperature).softmax(1)[0],
            (answers.frame_view / self.temperature).softmax(1),
            answers.mirrored.sigmoid(),
            answers.structures.softmax(1),
            landmarks,
            torch.remainder(phase, 1.0),
        )


def load(checkpoint: Path) -> tuple[PictureNetwork, list[dict[str, Any]]]:
    """Return the mean network of a checkpoint, and the trainings that led to it."""
    kept = torch.load(checkpoint, map_location="cpu", weights_only=True)
    network = PictureNetwork(sizes())
    network.load_state_dict(kept["mean"])
    return network.float().eval(), kept["trainings"]


@torch.no_grad()
def fitted_temperature(network: PictureNetwork, held: Store) -> float:
    """Return the number by which view logits are divided so that held-out clips are least surprising."""
    logits, shares = [], []
    for start in range(0, held.n, 32):
        batch = held.batch(torch.arange(start, min(start + 32, held.n)))
        logits.append(network(net_input(batch), batch.phase.shape[1]).view)
        shares.append(batch.shares)
    said, true = torch.cat(logits), torch.cat(shares)
    tried = np.geomspace(0.4, 3.0, 60)
    return float(min(tried, key=lambda t: float(soft_cross_entropy(said / float(t), true))))


def halved(model: onnx.ModelProto) -> onnx.ModelProto:
    """Store large tables in half width; onnxruntime widens them once, when the file is loaded."""
    graph, kept, casts = model.graph, [], []
    for table in graph.initializer:
        values = numpy_helper.to_array(table)
        if values.dtype != np.float32 or values.size < SMALLEST_STORED_HALF:
            kept.append(table)
            continue
        kept.append(numpy_helper.from_array(values.astype(np.float16), f"{table.name}_half"))
        casts.append(helper.make_node("Cast", [f"{table.name}_half"], [table.name], to=TensorProto.FLOAT))
    nodes = [*casts, *graph.node]
    for node in nodes:  # where in the code it was written, on which machine: of no use to whoever runs it
        del node.metadata_props[:]
    del graph.initializer[:], graph.node[:]
    graph.initializer.extend(kept)
    graph.node.extend(nodes)
    onnx.checker.check_model(model)
    return model


def _fused(network: PictureNetwork) -> PictureNetwork:
    """Fold the scaling of each channel into the convolution before it."""
    for module in network.modules():
        if isinstance(module, nn.Sequential) and len(module) > 1 and isinstance(module[1], nn.BatchNorm2d):
            module[0] = nn.utils.fuse_conv_bn_eval(module[0], module[1])
            module[1] = nn.Identity()
    return network


def export(network: PictureNetwork, temperature: float, path: Path, about: dict[str, Any]) -> None:
    """Write the file, with what it names and how it came about in its metadata."""
    shipped = Shipped(_fused(network), temperature).eval()
    frames = torch.rand(3, 2, SIDE_PX, SIDE_PX)
    torch.onnx.export(
        shipped, (frames,), str(path), input_names=["frames"], output_names=list(OUTPUTS), opset_version=18,
        dynamic_shapes={"frames": {0: torch.export.Dim("n_frames", min=1, max=512)}}, dynamo=True,
        external_data=False, verbose=False,
    )  # fmt: skip
    model = halved(onnx.load(path))
    facts = {
        "views": [*views(), NONE_OF_THESE],
        "structures": [s.name.lower() for s in Structure],
        "landmarks": [mark.name.lower() for mark in LANDMARKS],
        "side_px": SIDE_PX,
        "temperature": temperature,
        **about,
    }
    helper.set_model_props(model, {"fanlight": json.dumps(facts)})
    onnx.save(model, path)


def main() -> None:
    """Read the command line and export."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--checkpoint", type=Path, required=True)
    parser.add_argument("--held-out", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--commit", default="")
    given = parser.parse_args()
    network, trainings = load(given.checkpoint)
    held = Store(given.held_out, 2048, torch.device("cpu"))
    held.refresh()
    temperature = fitted_temperature(network, held)
    about = {"trainings": trainings, "commit": given.commit, "held_out_clips": held.n}
    export(network, temperature, given.out, about)
    print(f"{given.out}: {given.out.stat().st_size} bytes, temperature {temperature:.3f}")


if __name__ == "__main__":
    main()

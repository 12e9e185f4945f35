"""Write into the file of a network what was found out after it was exported. Needs ONNX.

python -m training.label --network FILE --commit HASH --spread-factor 0.4
"""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import onnx
from onnx import helper


def main() -> None:
    """Read the command line and label."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--network", type=Path, required=True)
    parser.add_argument("--commit", help="of the code that it was trained with")
    parser.add_argument("--spread-factor", type=float, help="from measure.recognition, on ring A'")
    given = parser.parse_args()
    model = onnx.load(given.network)
    facts = json.loads({prop.key: prop.value for prop in model.metadata_props}["fanlight"])
    for name in ("commit", "spread_factor"):
        if (value := getattr(given, name)) is not None:
            facts[name] = value
    del model.metadata_props[:]
    helper.set_model_props(model, {"fanlight": json.dumps(facts)})
    onnx.save(model, given.network)


if __name__ == "__main__":
    main()
